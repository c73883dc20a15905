"""What each setting means, read from the line of text under it when somebody asks.

pydantic can read these lines too, but does so at every start; asking late keeps the start short.
"""

from __future__ import annotations

import ast
import inspect
from functools import cache
from itertools import pairwise

from pydantic import BaseModel


@cache
def meanings(model: type[BaseModel]) -> dict[str, str]:
    """The meaning of every field of a settings class, by field name, those of its parents included."""
    found: dict[str, str] = {}
    for part in reversed(model.__mro__):
        if part is not BaseModel and issubclass(part, BaseModel):
            found |= _of_class(part)
    return found


def _of_class(model: type[BaseModel]) -> dict[str, str]:
    module = inspect.getmodule(model)
    if module is None:
        return {}
    classes = (
        node for node in ast.walk(ast.parse(inspect.getsource(module))) if isinstance(node, ast.ClassDef)
    )
    body = next((node.body for node in classes if node.name == model.__name__), [])
    return {
        field.target.id: text.value.value.strip()
        for field, text in pairwise(body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(text, ast.Expr)
        and isinstance(text.value, ast.Constant)
        and isinstance(text.value.value, str)
    }
