// Reads an iCalendar file with ical.js and prints what it understood as JSON, one event a line.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [modules, file] = process.argv.slice(2);
const found = createRequire(pathToFileURL(modules + "/")).resolve("ical.js");
const { default: ICAL } = await import(pathToFileURL(found).href);
const calendar = new ICAL.Component(ICAL.parse(readFileSync(file, "utf8")));
for (const zone of calendar.getAllSubcomponents("vtimezone")) {
  ICAL.TimezoneService.register(zone);
}
const when = (time) =>
  time.isDate ? "D " + time.toString().replaceAll("-", "") : "T " + time.toUnixTime();
for (const component of calendar.getAllSubcomponents("vevent")) {
  const event = new ICAL.Event(component);
  console.log(
    JSON.stringify({
      uid: event.uid,
      start: when(event.startDate),
      end: when(event.endDate),
      sequence: event.sequence,
      status: component.getFirstPropertyValue("status"),
      summary: event.summary,
      description: event.description ?? "",
      location: event.location ?? "",
    }),
  );
}
