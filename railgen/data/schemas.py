"""JSON Schemas of every input file, generated from the models that validate them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from railgen.data.component import Component, Family, Option
from railgen.data.library import LibraryFile
from railgen.data.limit_sets import LimitSet
from railgen.data.order import Order
from railgen.data.plant import Finishing, Press
from railgen.data.post import PostProcessor
from railgen.data.stock import FastenersFile, SectionsFile, SteelsFile, StockLengths

MODELS: dict[str, type[BaseModel]] = {
    "order": Order,
    "library": LibraryFile,
    "sections": SectionsFile,
    "steels": SteelsFile,
    "fasteners": FastenersFile,
    "finishing": Finishing,
    "stock": StockLengths,
    "press": Press,
    "post": PostProcessor,
    "limits": LimitSet,
    "family": Family,
    "option": Option,
    "component": Component,
}
"""Models of the kinds of input file, by name."""


def schema(kind: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a kind of file, keys as they are written in the file."""
    model = MODELS[kind]
    made = model.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}
