"""What reports are made of: records with the fields of the program's JSON, and tables of them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any, Generic, TypeVar, overload

from . import _engine

__all__ = ["Record", "Table"]

T = TypeVar("T")


class Record:
    """One object of the program's JSON: its fields as attributes, or by name as ``record["from"]``.

    A field whose name is a word of Python has an underscore behind it: ``change.from_``.
    """

    __slots__ = ("_fields",)
    _fields: dict[str, Any]

    def __init__(self, fields: dict[str, Any]) -> None:
        object.__setattr__(self, "_fields", fields)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        try:
            return self._fields[name if name in self._fields else name.removesuffix("_")]
        except KeyError:
            known = ", ".join(self._fields)
            raise AttributeError(f"there is no {name!r} here; there is: {known}") from None

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a record of a report is only read")

    def __getitem__(self, name: str) -> Any:
        return self._fields[name]

    def __contains__(self, name: object) -> bool:
        return name in self._fields

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)

    def keys(self) -> Sequence[str]:
        """The names of the fields, in the order of the JSON."""
        return list(self._fields)

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists."""
        return {name: _plain(value) for name, value in self._fields.items()}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Record) and self._fields == other._fields

    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[type[Record], tuple[dict[str, Any]]]:
        return Record, (self._fields,)

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._fields})

    def __repr__(self) -> str:
        return f"Record({', '.join(f'{name}={_short(value)}' for name, value in self._fields.items())})"


def _plain(value: Any) -> Any:
    if isinstance(value, Record):
        return value.to_dict()
    if isinstance(value, list):
        return [_plain(v) for v in value]
    return value


def _short(value: Any) -> str:
    if isinstance(value, list) and len(value) > 4:
        return f"[{len(value)} of {type(value[0]).__name__}]"
    return repr(value)


def read(text: str) -> Record:
    """JSON text as records."""
    record = json.loads(text, object_hook=Record)
    assert isinstance(record, Record)
    return record


class Columns:
    """Named columns, given on by the Arrow C stream interface."""

    _table: _engine.Table

    def __init__(self, table: _engine.Table) -> None:
        self._table = table

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._table.__arrow_c_stream__(requested_schema)

    def __arrow_c_schema__(self) -> object:
        return self._table.__arrow_c_schema__()

    @property
    def columns(self) -> list[str]:
        """The names of the columns, units in them."""
        return self._table.columns

    def __len__(self) -> int:
        return len(self._table)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({len(self)} rows: {', '.join(self.columns)})"


class Table(Columns, Generic[T]):
    """Rows of a report: records in order, and a table for data frames.

    Whatever takes the Arrow C stream interface takes it as it is, without a copy: ``polars.DataFrame(table)``,
    ``pyarrow.table(table)``, ``pandas.DataFrame.from_arrow(table)``, ``duckdb.sql("SELECT ... FROM table")``.
    The columns are those of the program's CSV and Parquet files.
    """

    def __init__(self, rows: list[T], table: _engine.Table) -> None:
        self._rows, self._table = rows, table

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> list[T]: ...
    def __getitem__(self, index: int | slice) -> T | list[T]:
        return self._rows[index]

    def __iter__(self) -> Iterator[T]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    def __repr__(self) -> str:
        return f"Table({len(self)} rows: {', '.join(self.columns)})"
