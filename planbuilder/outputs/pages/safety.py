"""Stop signs and the few rules of the road, in plain words. Nothing here diagnoses or promises."""

from __future__ import annotations

from dataclasses import dataclass

GENERAL = (
    "General guidance, not medical advice. If in doubt, or if something feels wrong, stop and speak to a "
    "doctor, physiotherapist or other licensed practitioner, and follow local rules."
)


@dataclass(frozen=True, slots=True)
class StopSign:
    """What a runner notices, and what to do."""

    sign: str
    do: str


STOP_SIGNS = (
    StopSign(
        "Pain or pressure in the chest, fainting or nearly, sudden severe breathlessness, confusion",
        "Stop. Call the local emergency number. Someone with you starts resuscitation where it is needed "
        "and sends for the defibrillator.",
    ),
    StopSign(
        "In heat: chills or goose-flesh, staggering, odd behaviour, vomiting",
        "Stop, shade, cool first with water or ice, call for help. No more running that day.",
    ),
    StopSign(
        "Bloated, sick, headache or puffy hands during a long run or in the day after it",
        "No more plain water. Get medical help.",
    ),
    StopSign(
        "Pounding or irregular heartbeat, one swollen calf, blood in the urine, very dark urine with great "
        "soreness",
        "Stop running and speak to a doctor the same day.",
    ),
    StopSign(
        "Pain in one spot of a bone, pain at night or at rest, or pain that makes you limp",
        "Stop running and have it looked at before the next run. It could be a bone, and waiting costs time.",
    ),
    StopSign(
        "Fever, or an illness below the neck",
        "Rest. Tell your coach; the plan gives way and nothing has to be made up.",
    ),
)

PAIN = (
    "Ordinary tiredness and an ache of 0 to 2 out of 10 that settles as you warm up: carry on, gently. At 3, "
    "or when it changes how you run: stop, walk home, tell your coach. If it is still there after a few easy "
    "days, please ask a physiotherapist or doctor."
)

ROAD = (
    "Use the pavement; without one, face the traffic and go in single file round bends. Your local rules "
    "come first.",
    "In the dark: a lit route you know, a head torch and a rear light, something reflective, a phone, and "
    "someone who knows where you are.",
    "Descents only on dry, smooth ground in daylight, away from driveways and parked cars.",
    "In great heat, ice, gale, smoke or thunder: run easy indoors or leave it out. It is not made up later.",
)
