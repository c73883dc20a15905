"""The runner: from results to form, from form to predictions and pace bands.

Receives: ``RunnerSettings``, the limits, and corrections for the courses of the results.
Gives: ``Form``, ``Prediction`` and ``Paces`` (types.py).
"""
