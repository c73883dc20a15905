"""Runs inside a session of its own, under the system's Python: asks Evolution Data Server for a calendar.

Reads commands from standard input, one a line: ``list`` and ``refresh``. Answers each with one line of JSON.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import gi  # type: ignore[import-not-found]

gi.require_version("ECal", "2.0")
gi.require_version("EDataServer", "1.2")
gi.require_version("ICalGLib", "3.0")
from gi.repository import ECal, EDataServer, ICalGLib  # type: ignore[import-not-found]  # noqa: E402


def moment(client: Any, component: Any, kind: Any, time: Any) -> str:
    if time.is_date():
        return f"D {time.get_year():04d}{time.get_month():02d}{time.get_day():02d}"
    if time.is_utc():
        return f"T {time.as_timet()}"
    parameter = component.get_first_property(kind).get_first_parameter(ICalGLib.ParameterKind.TZID_PARAMETER)
    found, zone = client.get_timezone_sync(parameter.get_tzid(), None)
    return f"T {time.as_timet_with_zone(zone)}" if found else "no zone"


def record(client: Any, component: Any) -> dict[str, Any]:
    status = component.get_status()
    return {
        "uid": component.get_uid(),
        "start": moment(client, component, ICalGLib.PropertyKind.DTSTART_PROPERTY, component.get_dtstart()),
        "end": moment(client, component, ICalGLib.PropertyKind.DTEND_PROPERTY, component.get_dtend()),
        "sequence": component.get_sequence(),
        "status": "CANCELLED" if status == ICalGLib.PropertyStatus.CANCELLED else "CONFIRMED",
        "summary": component.get_summary() or "",
        "description": component.get_description() or "",
        "location": component.get_location() or "",
    }


def main() -> None:
    registry = EDataServer.SourceRegistry.new_sync(None)
    source = registry.ref_source("plan")
    client = ECal.Client.connect_sync(source, ECal.ClientSourceType.EVENTS, 30, None)
    answer: Any
    for line in sys.stdin:
        if line.strip() == "refresh":
            client.refresh_sync(None)
            answer = True
        else:
            _, components = client.get_object_list_sync("#t", None)
            answer = [record(client, component) for component in components]
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


main()
