//! The sound pack that every malformed one is made from.

/// The head.
const HEAD: &str = r#"[pack]
id = "tiny"
title = "Tiny pack"
edition = "1"
language = "en"
caution = "Follow your railway's rules."
low_water = "Follow the notice in the cab."
retired_steps = [99]

[[grade]]
id = "fireman"
number = 1
name = "Fireman"
covers = []

[[grade]]
id = "foreman"
number = 2
name = "Running foreman"
covers = ["fireman"]

[[feature]]
id = "air-brake"
number = 1
name = "Air brake"

[[state]]
id = "hot"
number = 1
name = "hot"
role = "steam"

[[state]]
id = "gone"
number = 2
name = "off shed"
role = "away"

[[fitting]]
id = "plug"
number = 1
name = "Plug"

[[due]]
id = "washout"
number = 1
name = "Washout"
steam_days = 28
last_day = "anniversary"
source = "common practice, no source"

[[event]]
id = "drained"
number = 1
name = "Drained"
by = "fireman"
voids = ["water", "sign", "look-over"]

[[event]]
id = "burst"
number = 2
name = "Glass burst"
by = "fireman"
voids = "all"
sets = ["gone"]
clears = ["hot"]
opens = "stopping"
cleared_by = ["foreman"]

[defects]
cleared_by = ["foreman"]
restricted_by = ["foreman"]

[fitness]
needs = [ { fresh = "look-over" }, { no_defect = "stopping" } ]

[[obligation]]
goal = "fitness"
fresh = ["look-over", "sign"]
holds = [ { no_defect = "stopping" } ]
why = "Somebody looked."
"#;

/// The sequence with most kinds of step.
const WORK: &str = r#"[sequence]
id = "work"
number = 1
title = "Work"
purpose = "To be ready."
by = "fireman"

[[stage]]
id = "first"
title = "First"

[[stage]]
id = "last"
title = "Last"

[[step]]
id = "water"
number = 1
stage = "first"
title = "Water seen"
do = "Read the level."
caution = "Face away."
minutes = 1
source = "common practice, no source"
kind = "reading"
quantity = "glass"
unit = "mm"
low = "20 mm"
high = "90 mm"
warn_low = "30 mm"
warn_high = "80 mm"
shared = true
fails = "stopping"

[[step]]
id = "plug"
number = 2
stage = "first"
title = "Plug read"
do = "Read its number."
minutes = 1
source = "common practice, no source"
kind = "identity"
fitting = "plug"

[[step]]
id = "state"
number = 3
stage = "first"
title = "How it is found"
do = "Say how."
minutes = 1
source = "common practice, no source"
kind = "choice"
options = [ { title = "Cold", passes = true }, { title = "Burst", passes = false } ]

[[step]]
id = "date"
number = 4
stage = "first"
title = "Washout in date"
do = "Accept it."
minutes = 1
source = "common practice, no source"
kind = "derived"
computes = "due"
due = "washout"

[[step]]
id = "brake"
number = 5
stage = "first"
title = "Brake holds"
do = "Watch it."
minutes = 1
source = "common practice, no source"
kind = "timed"
at_least = "60 s"
at_most = "90 s"
quantity = "pressure"
unit = "bar"
max_fall = "5 psi"
applies = "air-brake"
not_applicable = true

[[step]]
id = "feed"
number = 6
stage = "first"
title = "Feed works"
do = "In this order."
minutes = 4
source = "common practice, no source"
kind = "procedure"
needs = [ { reading = "water", low = "25 mm", high = "60 mm" } ]
sets = ["hot"]
life = "4 h"

[[step.part]]
do = "Read."
ask = "reading"
quantity = "glass"
unit = "mm"
high = "70 mm"

[[step.part]]
do = "Run it."
ask = "time"
at_least = "60 s"
at_most = "5 min"

[[step.part]]
do = "Read again."
ask = "rise"
from = 1
timed_by = 2
at_least = "10 mm"
over = "1 min"

[[step.part]]
do = "Read the other."
ask = "same"
as = 3
within = "12 mm"

[[step]]
id = "sign"
number = 7
stage = "last"
title = "Signed"
do = "Sign."
minutes = 1
source = "common practice, no source"
kind = "signature"
needs = [
  { fresh = "water", because = "In depth." },
  { agree = ["water", "feed"], within = "50 mm" },
  { wait = "10 min", since = "feed" },
  { any = [ { after = "plug" }, { after = "state" } ] },
  { in_date = "washout" },
  { state_not = "gone" },
  { grade = "fireman", because = "In depth." },
]
shared = true

[[step]]
id = "look-over"
number = 8
stage = "last"
title = "Looked over"
do = "Look it over."
minutes = 1
source = "common practice, no source"
kind = "signature"
review = true
by = "foreman"
needs = [ { fresh = "sign" }, { different = "sign" }, { with = "fireman" } ]
voids = []
shared = true
closes = true

[[obligation]]
goal = "feed"
holds = [ { reading = "water", low = "25 mm", high = "60 mm" } ]
why = "Water first."

[[obligation]]
goal = "sign"
fresh = ["water"]
after = ["feed"]
holds = [
  { agree = ["water", "feed"], within = "50 mm" },
  { wait = "10 min", since = "feed" },
  { any = [ { after = "plug" }, { after = "state" } ] },
  { in_date = "washout" },
  { state_not = "gone" },
]
why = "A signature stands under seen work."

[[obligation]]
goal = "look-over"
fresh = ["sign"]
holds = [ { different = "sign" }, { with = "fireman" } ]
why = "Four eyes."
"#;

/// A second sequence.
const OTHER: &str = r#"[sequence]
id = "other"
number = 2
title = "Other"
purpose = "Something else."

[[stage]]
id = "all-of-it"
title = "All of it"

[[step]]
id = "end"
number = 20
stage = "all-of-it"
title = "End"
do = "End it."
minutes = 1
source = "common practice, no source"
kind = "check"
by = "fireman"
needs = [ { fresh = "sign", within = "30 min" }, { state = "hot" } ]
closes = true

[[obligation]]
goal = "end"
holds = [ { fresh = "sign", within = "30 min" }, { state = "hot" } ]
why = "Only then."
"#;

/// Its files.
pub(crate) const FILES: [(&str, &str); 3] = [("pack.toml", HEAD), ("work.toml", WORK), ("other.toml", OTHER)];
