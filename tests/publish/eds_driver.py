"""A program for the system's Python, in a session of its own: asks Evolution Data Server for a calendar.

Reads commands from standard input, one a line: ``list`` and ``refresh``. Answers each with one line of JSON.
"""

from __future__ import annotations

import importlib
import json
import sys
from typing import Any


class Subscription:
    """The calendar named ``plan`` of this home."""

    def __init__(self) -> None:
        gi = importlib.import_module("gi")
        for name, version in (("ECal", "2.0"), ("EDataServer", "1.2"), ("ICalGLib", "3.0")):
            gi.require_version(name, version)
        self._ecal, data_server, self._ical = (
            importlib.import_module(f"gi.repository.{name}") for name in ("ECal", "EDataServer", "ICalGLib")
        )
        source = data_server.SourceRegistry.new_sync(None).ref_source("plan")
        self._client = self._ecal.Client.connect_sync(source, self._ecal.ClientSourceType.EVENTS, 30, None)

    def refresh(self) -> bool:
        """Ask the service to fetch the feed again."""
        return bool(self._client.refresh_sync(None))

    def events(self) -> list[dict[str, Any]]:
        """Everything it holds."""
        _, components = self._client.get_object_list_sync("#t", None)
        return [self._record(component) for component in components]

    def _record(self, component: Any) -> dict[str, Any]:
        kinds = self._ical.PropertyKind
        cancelled = component.get_status() == self._ical.PropertyStatus.CANCELLED
        return {
            "uid": component.get_uid(),
            "start": self._moment(component, kinds.DTSTART_PROPERTY, component.get_dtstart()),
            "end": self._moment(component, kinds.DTEND_PROPERTY, component.get_dtend()),
            "sequence": component.get_sequence(),
            "status": "CANCELLED" if cancelled else "CONFIRMED",
            "summary": component.get_summary() or "",
            "description": component.get_description() or "",
            "location": component.get_location() or "",
        }

    def _moment(self, component: Any, kind: Any, time: Any) -> str:
        if time.is_date():
            return f"D {time.get_year():04d}{time.get_month():02d}{time.get_day():02d}"
        if time.is_utc():
            return f"T {time.as_timet()}"
        parameters = self._ical.ParameterKind
        zone_name = (
            component.get_first_property(kind).get_first_parameter(parameters.TZID_PARAMETER).get_tzid()
        )
        found, zone = self._client.get_timezone_sync(zone_name, None)
        return f"T {time.as_timet_with_zone(zone)}" if found else "no zone"


def main() -> None:
    """Answer commands until there are no more."""
    subscription = Subscription()
    for line in sys.stdin:
        answer = subscription.refresh() if line.strip() == "refresh" else subscription.events()
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
