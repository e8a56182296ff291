//! The duty board as one page of HTML that needs nothing else: no script, no font, no picture from elsewhere. It reads on
//! a phone, on a wall and on paper, tells each verdict in words and by a shape, and says of which moment it is and that it
//! does not follow what comes later.

use std::fmt::{self, Write};

use crate::views::{Board, BoardRow, ReasonView};

/// A text with what HTML would take for markup written out.
struct Plain<'t>(&'t str);

impl fmt::Display for Plain<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for c in self.0.chars() {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                // What is no character of a document stands as the sign for that.
                c if c.is_control() && !matches!(c, '\n' | '\t') => f.write_str("\u{FFFD}")?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

const STYLE: &str = "\
:root{color-scheme:light dark;--paper:#fff;--ink:#16181c;--faint:#4a4f58;--rule:#16181c;--well:#0b5d2a;--mind:#7a4a00;--ill:#9d1111}
@media (prefers-color-scheme:dark){:root{--paper:#14161a;--ink:#f1f2f4;--faint:#b9bec7;--rule:#8a909b;--well:#7fd69b;--mind:#ffc266;--ill:#ff9a94}}
*{box-sizing:border-box}
html{font-size:clamp(16px,.75vw + 12px,26px)}
body{margin:0;padding:1rem clamp(.75rem,2vw,2.5rem);background:var(--paper);color:var(--ink);font-family:'Atkinson Hyperlegible Next','Atkinson Hyperlegible',system-ui,sans-serif;line-height:1.4}
h1{font-size:1.6rem;margin:0}h2{font-size:1.25rem;margin:0}p{margin:.25rem 0}
header{border-bottom:.2rem solid var(--rule);padding-bottom:.5rem;margin-bottom:1rem}
.time{font-weight:700}.stale{border:.15rem solid var(--rule);padding:.4rem .6rem;margin:.5rem 0}
main{display:grid;gap:1rem;grid-template-columns:repeat(auto-fill,minmax(min(100%,26rem),1fr))}
article{border:.12rem solid var(--rule);border-radius:.3rem;padding:.75rem;overflow-wrap:anywhere;break-inside:avoid}
.verdict{display:flex;align-items:center;gap:.6rem;font-weight:700;font-size:1.25rem;margin:.25rem 0}
.verdict svg{width:2.4rem;height:2.4rem;flex:none}
.fit{color:var(--well)}.restricted{color:var(--mind)}.not-fit{color:var(--ill)}.not-known{color:var(--ink)}
ul{margin:.25rem 0;padding-left:1.2rem}li{margin:.15rem 0}
.note{color:var(--faint)}footer{margin-top:1rem;border-top:.1rem solid var(--rule);color:var(--faint)}
@media print{@page{size:A4;margin:12mm}:root{--paper:#fff;--ink:#000;--faint:#333;--rule:#000;--well:#000;--mind:#000;--ill:#000}html{font-size:10.5pt}body{padding:0}main{display:block}article{margin-bottom:6mm}}
";

/// The page.
pub(super) fn page(board: &Board, doubts: &[String]) -> String {
    let mut out = String::new();
    // Writing to a string does not fail.
    let _ = write_page(&mut out, board, doubts);
    out
}

fn write_page(out: &mut String, board: &Board, doubts: &[String]) -> fmt::Result {
    let (as_of, rules) = (Plain(&board.as_of), Plain(&board.pack));
    write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Duty board as of {as_of}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <header>\n<h1>Duty board</h1>\n<p class=\"time\">As of {as_of}</p>\n\
         <p class=\"stale\"><strong>This page is not live.</strong> It says what was recorded by then; it does not follow \
         what was recorded since, and verdicts lapse as time goes by. Look at the board itself before an engine leaves.</p>\n\
         <p class=\"note\">Rules: {rules}</p>\n"
    )?;
    list(out, "Records are damaged or missing", doubts.iter().cloned())?;
    out.write_str("</header>\n<main>\n")?;
    for row in &board.engines {
        engine(out, row)?;
    }
    if board.engines.is_empty() {
        out.write_str("<p>The register knows no engine.</p>\n")?;
    }
    write!(out, "</main>\n<footer>\n<p>{}</p>\n", Plain(&board.caution))?;
    out.write_str("<p>This records what competent people did. It does not make an engine safe.</p>\n</footer>\n</body>\n</html>\n")
}

fn engine(out: &mut String, row: &BoardRow) -> fmt::Result {
    let name = Plain(&row.name);
    write!(out, "<article>\n<h2>No. {} {name}</h2>\n<p class=\"verdict {}\">", row.engine, row.verdict)?;
    out.write_str(shape(row.verdict))?;
    writeln!(out, "<span>{}</span></p>", Plain(row.verdict_words))?;
    if let (Some(turn), Some(at)) = (&row.turn, &row.off_shed) {
        writeln!(out, "<p>{}, booked off shed {}</p>", Plain(turn), Plain(at))?;
    }
    if let Some(at) = &row.away_since {
        writeln!(out, "<p>Off shed since {}</p>", Plain(at))?;
    }
    if let Some(until) = &row.until {
        writeln!(out, "<p>Until <strong>{}</strong>: then {} lapses</p>", Plain(&until.short), Plain(&until.what))?;
    }
    reasons(out, &row.reasons)?;
    let conditions = row.conditions.iter().map(|c| format!("{} (through {})", c.words, c.last_day));
    list(out, "Conditions", conditions)?;
    list(out, "At work", row.at_work.iter().cloned())?;
    list(out, "Noted", row.noted.iter().cloned())?;
    if let Some(note) = &row.handover {
        writeln!(out, "<p class=\"note\">Note for whoever has it next: {}</p>", Plain(note))?;
    }
    out.write_str("</article>\n")
}

fn reasons(out: &mut String, reasons: &[ReasonView]) -> fmt::Result {
    let words = reasons.iter().map(|reason| match reason.one_of {
        0 => reason.words.clone(),
        _ => format!("one of several ways: {}", reason.words),
    });
    list(out, "Why not", words)
}

fn list(out: &mut String, title: &str, items: impl Iterator<Item = String>) -> fmt::Result {
    let mut items = items.peekable();
    if items.peek().is_none() {
        return Ok(());
    }
    write!(out, "<p><strong>{title}</strong></p>\n<ul>\n")?;
    for item in items {
        writeln!(out, "<li>{}</li>", Plain(&item))?;
    }
    out.write_str("</ul>\n")
}

/// A shape for each verdict, different in outline, so that it tells without colour: a ring with a tick, a triangle with a
/// stroke, a filled square with a cross, a diamond with a question mark.
fn shape(verdict: &str) -> &'static str {
    match verdict {
        "fit" => {
            "<svg viewBox=\"0 0 40 40\" role=\"img\" aria-label=\"ring with a tick\"><circle cx=\"20\" cy=\"20\" r=\"17\" fill=\"none\" \
             stroke=\"currentColor\" stroke-width=\"4\"/><path d=\"M11 20l6 7 12-14\" fill=\"none\" stroke=\"currentColor\" \
             stroke-width=\"4\"/></svg>"
        }
        "restricted" => {
            "<svg viewBox=\"0 0 40 40\" role=\"img\" aria-label=\"triangle with a stroke\"><path d=\"M20 4l17 32H3z\" fill=\"none\" \
             stroke=\"currentColor\" stroke-width=\"4\"/><path d=\"M20 15v10M20 29v3\" stroke=\"currentColor\" \
             stroke-width=\"4\"/></svg>"
        }
        "not-fit" => {
            "<svg viewBox=\"0 0 40 40\" role=\"img\" aria-label=\"square with a cross\"><path d=\"M3 3h34v34H3z\" \
             fill=\"currentColor\"/><path d=\"M11 11l18 18M29 11L11 29\" stroke=\"var(--paper)\" stroke-width=\"5\"/></svg>"
        }
        _ => {
            "<svg viewBox=\"0 0 40 40\" role=\"img\" aria-label=\"diamond with a question mark\"><path d=\"M20 2l18 18-18 18L2 20z\" \
             fill=\"none\" stroke=\"currentColor\" stroke-width=\"4\" stroke-dasharray=\"5 3\"/><text x=\"20\" y=\"27\" \
             text-anchor=\"middle\" font-size=\"20\" font-weight=\"700\" fill=\"currentColor\">?</text></svg>"
        }
    }
}
