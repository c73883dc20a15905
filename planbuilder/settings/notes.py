"""A note: one sentence that names the rule behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

NoteKind = Literal["refusal", "caution", "given_up", "assumed", "exception", "override", "info"]


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence for the runner or coach; quantities stand in it as marks (see ``planbuilder.units``).

    refusal    what the plan will not do, and what can be done instead
    caution    read this before running
    given_up   a wish that the limits did not allow, with both numbers
    assumed    a setting that was missing, and what stands in for it
    exception  a limit allowed an exception here
    override   the coach changed a number of ours
    info       anything else worth knowing
    """

    rule: str  # name of the rule or limit, such as "load.single_run_cap"
    text: str
    kind: NoteKind = "info"
    session: str | None = None  # id of the session it speaks of
    private: bool = False  # health: shown on the coach's page only
