"""The GPX files that these tests make are valid GPX 1.1 (schema: www.topografix.com/GPX/1/1/gpx.xsd)."""

from __future__ import annotations

from pathlib import Path

import pytest
import xmlschema

from tests.course.hand_made import gpx_of, sine
from tests.course.test_disguises import DISGUISES

SCHEMA = xmlschema.XMLSchema(str(Path(__file__).parent.parent / "published" / "gpx-1.1.xsd"))
VALID = (
    *(
        "plain",
        "whole_metres",
        "utf_16",
        "latin_1_declared",
        "comments_and_cdata",
        "a_route",
        "every_point_twice",
    ),
    *(
        "several_segments",
        "several_tracks",
        "spikes",
        "sentinel_heights",
        "missing_first_heights",
        "prefixed",
    ),
)


@pytest.mark.parametrize("name", VALID)
def test_a_hand_made_file_is_valid_gpx(name: str) -> None:
    made = DISGUISES[name](sine(80.0) if name in ("plain", "a_route") else sine())
    SCHEMA.validate(made if isinstance(made, bytes) else made.encode())


@pytest.mark.parametrize("name", ["no_namespace", "decimal_commas", "bad_places", "attributes_the_other_way"])
def test_the_schema_tells_a_file_that_is_not(name: str) -> None:
    with pytest.raises(xmlschema.XMLSchemaValidationError, match=r"failed (validating|decoding)"):
        SCHEMA.validate(str(DISGUISES[name](sine())).encode())


def test_an_empty_track_is_valid_too() -> None:
    SCHEMA.validate(gpx_of([[]]).encode())
