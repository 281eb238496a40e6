"""What every table is made of: the common catalogue of tables, and columns with their keys named."""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, MetaData, Table

META = MetaData()


def one_of(table: str, column: str, *words: str) -> CheckConstraint:
    """The column holds one of these words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"ck_{table}_{column}")


def record(name: str, *columns: Column[object] | CheckConstraint) -> Table:
    """A record table: its number, its own columns, and the acts that wrote and voided the row."""
    return Table(
        name,
        META,
        Column("id", Integer, primary_key=True),
        *columns,
        Column("act_id", Integer, ForeignKey("acts.id", name=f"fk_{name}_act"), nullable=False),
        Column("void_act_id", Integer, ForeignKey("acts.id", name=f"fk_{name}_void_act")),
    )


def needed(name: str, kind: type, key: str | None = None, table: str = "") -> Column[object]:
    """A column that is never empty; ``key`` names the column it refers to."""
    if key:
        return Column(name, kind, ForeignKey(key, name=f"fk_{table}_{name}"), nullable=False)
    return Column(name, kind, nullable=False)


def optional(name: str, kind: type, key: str | None = None, table: str = "") -> Column[object]:
    """A column that may be empty."""
    if key:
        return Column(name, kind, ForeignKey(key, name=f"fk_{table}_{name}"))
    return Column(name, kind)


def index_acts(table: Table) -> None:
    """Index a table that grows long by the acts that wrote and voided its rows."""
    Index(f"ix_{table.name}_act", table.c.act_id)
    Index(f"ix_{table.name}_void_act", table.c.void_act_id, sqlite_where=table.c.void_act_id.is_not(None))
