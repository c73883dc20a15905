"""The runner: from results to form, from form to predictions and pace bands.

Receives: ``RunnerSettings``, the limits, and the course files that results name.
Gives: ``Form``, ``Prediction`` and ``Paces`` (types.py), the runner's level and trusted volume, and a note
for every setting that something stands in for.
"""

from planbuilder.runner.assumptions import assumptions
from planbuilder.runner.corrections import heat_scale
from planbuilder.runner.form import find_form, until_test
from planbuilder.runner.paces import find_paces
from planbuilder.runner.prediction import predict
from planbuilder.runner.types import Band, Form, Level, Paces, Prediction, UsedResult
from planbuilder.runner.volume import Volume, level_of, trusted_volume
from planbuilder.runner.words import race_words

__all__ = [
    "Band",
    "Form",
    "Level",
    "Paces",
    "Prediction",
    "UsedResult",
    "Volume",
    "assumptions",
    "find_form",
    "find_paces",
    "heat_scale",
    "level_of",
    "predict",
    "race_words",
    "trusted_volume",
    "until_test",
]
