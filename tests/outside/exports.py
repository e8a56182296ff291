"""Exports of the demo's day, read by programs that know nothing of this one.

    python exports.py OFFSHED SHED OUT

OFFSHED is the program, SHED a data folder as `offshed demo` makes it, OUT a folder for what is exported. Needs the
packages of requirements.txt, and qpdf, pdfinfo, pdftotext and pdftoppm (poppler-utils). Ends with 1 at the first check
that fails.
"""

import csv
import datetime
import json
import pathlib
import re
import subprocess
import sys
import xml.etree.ElementTree as xml

import icalendar
import jsonschema
import pypdf

OFFSHED, SHED, OUT = sys.argv[1], sys.argv[2], pathlib.Path(sys.argv[3])
ROOT = pathlib.Path(__file__).resolve().parents[2]
AS_OF = ["--as-of", "2026-05-02 09:29"]
FORMAT = jsonschema.Draft202012Validator.FORMAT_CHECKER


def run(*args, code=0):
    done = subprocess.run([str(arg) for arg in args], capture_output=True, text=True)
    assert done.returncode == code, f"{args}: {done.returncode}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def offshed(*args, code=0):
    return run(OFFSHED, "--folder", SHED, *args, code=code)


def export(name, *args):
    offshed("export", *args, "--to", OUT / name, *AS_OF)
    return OUT / name


def plain(text):
    """Without white space: lines on paper are broken where they end, long words anywhere."""
    return re.sub(r"\s+", "", text)


def check_json(schema, sheets):
    validator = jsonschema.Draft202012Validator(schema, format_checker=FORMAT)
    kinds = [("history", "4"), ("defects",), ("dates",), ("water", "4")] + [("sheet", sheet) for sheet in sheets]
    for kind in kinds:
        file = export("-".join(kind) + ".json", *kind)
        validator.validate(json.loads(file.read_text()))
    # The schema is closed, so that a word it does not know is found.
    other = json.loads((OUT / "dates.json").read_text())
    other["data"][0]["colour"] = "green"
    assert list(validator.iter_errors(other)), "the schema lets everything through"
    print(f"JSON: {len(kinds)} exports hold to the schema (jsonschema, draft 2020-12)")


def check_csv():
    count = 0
    for kind in [("history", "4"), ("defects",), ("dates",), ("water", "4")]:
        file = export("-".join(kind) + ".csv", *kind)
        raw = file.read_bytes().decode("utf-8")
        rows = list(csv.reader(raw.splitlines(keepends=True), strict=True))
        # RFC 4180, section 2: CRLF, and as many fields in every record as in the head.
        assert raw.endswith("\r\n") and {len(row) for row in rows} == {len(rows[0])}, kind
        data = json.loads((OUT / ("-".join(kind) + ".json")).read_text())["data"]
        wanted = len(data["tests"]) + len(data["treatments"]) if kind[0] == "water" else len(data)
        assert len(rows) - 1 == wanted, (kind, len(rows), wanted)
        count += wanted
    with open(OUT / "dates.csv", newline="", encoding="utf-8") as file:
        table = list(csv.DictReader(file, strict=True))
    for row, date in zip(table, json.loads((OUT / "dates.json").read_text())["data"], strict=True):
        assert (row["date"], row["last_day"]) == (date["date"], date["last_day"] or ""), row
        assert row["days_left_d"] == ("" if date["days_left"] is None else str(date["days_left"])), row
    print(f"CSV: {count} records, as many as in JSON, read by Python's csv")


def check_calendar():
    file = export("dates.ics", "dates")
    raw = file.read_bytes()
    # RFC 5545, section 3.1: CRLF, and no line longer than 75 octets.
    assert raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b"")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    calendar = icalendar.Calendar.from_ical(raw)
    events = list(calendar.walk("VEVENT"))
    assert not any(event.errors for event in events) and not calendar.errors
    dates = json.loads((OUT / "dates.json").read_text())["data"]
    dated = {(d["engine"], d["date"]): d for d in dates if d["last_day"]}
    assert len(events) == len(dated) and len({str(event["UID"]) for event in events}) == len(events)
    for event in events:
        found = re.fullmatch(r"due-(\d+)-(.+)@[0-9a-f]{16}\.offshed\.invalid", str(event["UID"]))
        date = dated[int(found[1]), found[2]]
        start, end = event.decoded("DTSTART"), event.decoded("DTEND")
        assert type(start) is datetime.date and start.isoformat() == date["last_day"], event
        assert end - start == datetime.timedelta(days=1) and event.decoded("DTSTAMP").tzinfo, event
        assert date["what"] in str(event["SUMMARY"]), event
    undated = [d for d in dates if not d["last_day"]]
    for date in undated:
        assert date["what"] in str(calendar["DESCRIPTION"]), date
    print(f"iCalendar: {len(events)} events and {len(undated)} dates without a day, read by icalendar")


def check_page():
    page = export("board.html", "board").read_text()
    body = re.sub(r"<!DOCTYPE html>|<meta [^>]*>", "", page)
    # Without its void elements the page is well-formed.
    tree = xml.fromstring(body)
    words = plain("".join(tree.itertext()))
    board = json.loads(offshed("--json", "board", *AS_OF))
    for row in board["engines"]:
        for text in [f"No. {row['engine']} {row['name']}", row["verdict_words"]] + [r["words"] for r in row["reasons"]]:
            assert plain(text) in words, text
    assert plain(board["as_of"]) in words and plain("This page is not live.") in words
    assert not re.search(r"<script|https?:|src=|url\(|@import", page)
    print(f"HTML: {len(board['engines'])} engines, nothing from elsewhere")


def check_paper(name, *args):
    file = export(name, *args)
    assert run("qpdf", "--check", file).count("No syntax or stream encoding errors found") == 1
    info = dict(line.split(":", 1) for line in run("pdfinfo", file).splitlines())
    assert info["Tagged"].strip() == "yes" and info["Page size"].strip().endswith("(A4)"), info
    reader = pypdf.PdfReader(file)
    meta = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    # ISO 19005-2, 6.6.4: part and level of conformance stand in the metadata.
    assert re.search(r"pdfaid:part>\s*2<", meta) and re.search(r"pdfaid:conformance>\s*A<", meta), meta
    assert reader.trailer["/Root"]["/Lang"] and reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    fonts = [line for line in run("pdffonts", file).splitlines()[2:] if line]
    for font in fonts:
        assert re.search(r"\byes\s+yes\s+yes\b", font), f"not embedded, subset and mapped to Unicode: {font}"
    text = run("pdftotext", "-layout", file, "-")
    pages = int(info["Pages"])
    for page in range(1, pages + 1):
        assert f"page {page} of {pages}" in text
    run("pdftoppm", "-r", "60", "-png", file, OUT / name.removesuffix(".pdf"))
    return plain(run("pdftotext", "-raw", file, "-")), pages


def holds(text, *wanted):
    for part in wanted:
        assert plain(part) in text, f"not on the paper: {part}"


def check_papers(sheets):
    for n, sheet in enumerate(sheets):
        text, pages = check_paper(f"sheet-{n}.pdf", "sheet", sheet)
        data = json.loads((OUT / f"sheet-{sheet}.json").read_text())
        # Field by field: what stands on each step, and every entry. Tables break inside pages' heads and feet, so that
        # cells are looked for one by one.
        fields = [data["data"]["sheet"], data["proof"]["sha256"][:32]]
        for stage in data["data"]["stages"]:
            fields.append(stage["title"]) if any(s["result"] != "does-not-apply" for s in stage["steps"]) else None
            for step in stage["steps"]:
                fields += [step["title"], step["answer"], step.get("by", "")]
        missing = [field for field in fields if plain(field) not in text]
        # A cell that is divided by the end of a page is the only one that may not be found whole.
        assert len(missing) <= pages, missing
        assert sum(plain(entry["entry"]) in text for entry in data["data"]["entries"]) >= len(data["data"]["entries"]) - pages
        line = data["proof"]["check_line"]
        assert "agrees" in offshed("verify", "--paper", line)
        wrong = line[:-1] + ("0" if line[-1] != "0" else "1")
        assert "does NOT agree" in offshed("verify", "--paper", wrong, code=6)
        print(f"PDF: sheet {sheet}: {pages} pages, {len(fields)} fields found on it, {len(missing)} over a page's end")
    text, pages = check_paper("history-4.pdf", "history", "4")
    text, _ = check_paper("defects.pdf", "defects")
    for defect in json.loads((OUT / "defects.json").read_text())["data"]:
        holds(text, defect["words"], defect["by"])
    text, _ = check_paper("dates.pdf", "dates")
    for date in json.loads((OUT / "dates.json").read_text())["data"]:
        holds(text, date["what"], date["last_day"] or "", date["name"])
    check_paper("water-4.pdf", "water", "4")
    for sequence in ["preparation", "disposal", "relief", "water-test", "washout"]:
        text, _ = check_paper(f"blank-{sequence}.pdf", "blank", sequence)
        holds(text, "On paper nothing is locked")
    print("PDF: histories, lists and blanks are PDF/A-2a by their own word, tagged, embedded, sound by qpdf")


def main():
    OUT.mkdir(parents=True, exist_ok=True)
    schema = json.loads((ROOT / "desktop/depot/schema/export.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    sheets = [line["sheet"] for line in json.loads(offshed("--json", "sheet", *AS_OF))]
    assert sheets
    check_json(schema, sheets)
    check_csv()
    check_calendar()
    check_page()
    check_papers(sheets)


main()
