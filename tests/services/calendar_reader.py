"""Read a calendar with ical.js, which shares no code with the library that writes it."""

import json
import subprocess
from pathlib import Path

from .programs import PATIENCE_S, Missing, find_program

FOLDER = Path(__file__).resolve().parents[2] / ".bobbin" / "npm"
NOT_FETCHED = "ical.js could not be fetched with npm"  # README.md says why this one may be skipped in CI

# Only what a calendar says counts: the zones are those of its own VTIMEZONE parts, not those of the computer.
_SCRIPT = """
import ICAL from "ical.js";
import { readFileSync } from "node:fs";
const calendar = new ICAL.Component(ICAL.parse(readFileSync(0, "utf8")));
const zones = new Map();
for (const part of calendar.getAllSubcomponents("vtimezone")) {
  const zone = new ICAL.Timezone(part);
  zones.set(zone.tzid, zone);
}
function seconds(property) {
  const time = property.getFirstValue();
  const zone = property.getParameter("tzid");
  if (zone) time.zone = zones.get(zone);
  return time.toUnixTime();
}
const events = calendar.getAllSubcomponents("vevent").map((part) => ({
  uid: part.getFirstPropertyValue("uid"),
  sequence: part.getFirstPropertyValue("sequence"),
  status: part.getFirstPropertyValue("status"),
  summary: part.getFirstPropertyValue("summary"),
  start: seconds(part.getFirstProperty("dtstart")),
  end: seconds(part.getFirstProperty("dtend")),
}));
console.log(JSON.stringify(events));
"""


def read_calendar(content: bytes) -> list[dict]:
    """Return uid, sequence, status, summary, and start and end in s since 1970, of each event. Raises Missing."""
    node = find_program("node", package="npm")
    if not (FOLDER / "node_modules" / "ical.js").is_dir():
        raise Missing(f"{NOT_FETCHED} (run .ci/tools)")
    script = FOLDER / "read_calendar.mjs"
    script.write_text(_SCRIPT)
    done = subprocess.run([node, str(script)], input=content, capture_output=True, check=True, timeout=PATIENCE_S)
    return json.loads(done.stdout)
