"""Calendar files as the PyPI package `icalendar` reads them, and their bytes against RFC 5545."""

import json
from datetime import date, datetime, timedelta, timezone

from power_answers import written
from icalendar import Calendar
from icalendar.parser import unescape_char

TEXT = written("dates.ics")
EXPECTED = json.loads(written("dates.json"))


def test_another_library_reads_the_same_events():
    calendar = Calendar.from_ical(TEXT)
    assert calendar.errors == []
    events = list(calendar.walk("VEVENT"))
    assert len(events) == len(EXPECTED) == 3
    for event, expected in zip(events, EXPECTED):
        assert event.errors == []
        assert str(event["UID"]) == expected["uid"]
        assert str(event["SUMMARY"]) == expected["title"]
        assert str(event["DESCRIPTION"]) == expected["description"]
        on = date.fromisoformat(expected["date"])
        assert event["DTSTART"].dt == on and event["DTSTART"].params["VALUE"] == "DATE"
        # RFC 5545 section 3.6.1: DTEND is exclusive, so a whole day ends on the next.
        assert event["DTEND"].dt == on + timedelta(days=1)
        assert event["DTSTAMP"].dt == datetime(2026, 11, 2, 8, 30, tzinfo=timezone.utc)
    # RFC 7986 section 5.1: NAME is of type TEXT, so a comma in it is escaped. The library knows the type of neither name
    # and leaves them as they are written.
    for name in ("NAME", "X-WR-CALNAME"):
        assert str(calendar[name]) == "Bar front\\, dates"
        assert unescape_char(str(calendar[name])) == "Bar front, dates"


def test_what_a_calendar_must_have():
    # RFC 5545 sections 3.6, 3.7.3 and 3.7.4: PRODID and VERSION 2.0, once each.
    lines = TEXT.split(b"\r\n")
    assert sum(line.startswith(b"PRODID:") for line in lines) == 1
    assert lines.count(b"VERSION:2.0") == 1
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""]


def test_lines_end_and_fold_as_they_must():
    # RFC 5545 section 3.1: CRLF line ends; no line longer than 75 octets without its line end.
    assert TEXT.count(b"\n") == TEXT.count(b"\r\n") == TEXT.count(b"\r")
    assert max(map(len, TEXT.split(b"\r\n"))) <= 75
    assert any(line.startswith(b" ") for line in TEXT.split(b"\r\n")), "the long title is folded"
