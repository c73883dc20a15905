"""Physiology: published formulas, numbers in and numbers out, nothing else.

One module a subject. Every function names its publication, the equation, the units of each parameter and the
range in which the authors measured; outside that range it raises ``ValueError`` that shows the value and the
range, or says in its docstring how it is held at the edge.

Most functions serve a plan. A few are checks: published relations that nothing in a plan is computed from,
kept because the tests hold plans or other formulas against them. Their modules name them under "Checks".
"""
