"""The tables of the logbook as they are today, and the types both databases share."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql


class UtcTime(sa.TypeDecorator[datetime]):
    """An instant, stored in UTC and read back aware.

    SQLite drops the offset of a plain DateTime, so that 16:10 in Denver came back as a naive 16:10: naive times are
    refused on the way in, and everything is UTC on the way out.
    """

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, _dialect: sa.Dialect) -> datetime | None:
        """The instant in UTC; a naive one is a ValueError."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time in the logbook must be aware, got the naive {value}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, _dialect: sa.Dialect) -> datetime | None:
        """The instant, aware and in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = sa.MetaData()


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.BigInteger, primary_key=True)


def _text(name: str, **options: Any) -> sa.Column[str]:
    return sa.Column(name, sa.Text, **options)


def _must(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _time(name: str, *, nullable: bool = True) -> sa.Column[datetime]:
    return sa.Column(name, UtcTime, nullable=nullable)


steps = sa.Table("logbook_steps", metadata, _text("name", primary_key=True))

inbox = sa.Table(
    "inbox",
    metadata,
    _id(),
    _must("door"),
    sa.Column("update_id", sa.BigInteger, nullable=False),
    sa.Column("chat_id", sa.BigInteger),
    _must("raw"),
    _time("got_utc", nullable=False),
    _must("state"),
    _time("done_utc"),
    _text("error"),
    sa.UniqueConstraint("door", "update_id"),
)

outbox = sa.Table(
    "outbox",
    metadata,
    _id(),
    sa.Column("key", sa.Text, nullable=False, unique=True),
    _text("garden"),
    _text("nudge_key"),
    sa.Column("chat_id", sa.BigInteger, nullable=False),
    _must("text"),
    _must("buttons"),
    _text("picture"),
    sa.Column("silent", sa.Boolean, nullable=False),
    _text("edits"),
    _time("due_utc", nullable=False),
    _time("expires_utc", nullable=False),
    _must("on_unknown"),
    _must("state"),
    sa.Column("attempts", sa.Integer, nullable=False),
    sa.Column("repeats", sa.Integer, nullable=False),
    _time("retry_utc"),
    _text("lease_by"),
    _time("lease_until_utc"),
    _time("claimed_utc"),
    _time("finished_utc"),
    sa.Column("message_id", sa.BigInteger),
    _text("error"),
    sa.Column("topic", sa.BigInteger),
    sa.Column("replies_to", sa.BigInteger),
    _text("reaction"),
)

doors = sa.Table("doors", metadata, _text("door", primary_key=True), _time("hold_until_utc"))

chats = sa.Table(
    "chats",
    metadata,
    sa.Column("chat_id", sa.BigInteger, primary_key=True, autoincrement=False),
    _time("unreachable_utc"),
    _time("last_claim_utc"),
)

people = sa.Table(
    "people",
    metadata,
    _id(),
    _must("garden"),
    sa.Column("chat_id", sa.BigInteger, nullable=False),
    _must("name"),
    _must("role"),
    sa.UniqueConstraint("garden", "chat_id"),
)

let_in_codes = sa.Table(
    "let_in_codes",
    metadata,
    _text("code_hash", primary_key=True),
    _must("garden"),
    _time("expires_utc", nullable=False),
    _time("used_utc"),
    sa.Column("used_chat_id", sa.BigInteger),
    _text("role"),
    _text("wish"),
)

invitations = sa.Table(
    "invitations",
    metadata,
    _id(),
    sa.Column("code_hash", sa.Text, nullable=False, unique=True),
    _time("expires_utc", nullable=False),
    sa.Column("uses_left", sa.Integer, nullable=False),
    _time("revoked_utc"),
)

beginnings = sa.Table(
    "beginnings",
    metadata,
    _text("garden", primary_key=True),
    _must("file"),
    sa.Column("invitation", sa.BigInteger, nullable=False),
    _time("begun_utc", nullable=False),
)

let_in_tries = sa.Table(
    "let_in_tries",
    metadata,
    _id(),
    sa.Column("chat_id", sa.BigInteger, nullable=False),
    _time("at_utc", nullable=False),
)

records = sa.Table(
    "records",
    metadata,
    _id(),
    _must("garden"),
    _must("kind"),
    _text("tree"),
    _text("what"),
    _text("cover_state"),
    sa.Column("air_c", sa.Double),
    sa.Column("is_minimum", sa.Boolean),
    _time("until_utc"),
    _text("text"),
    _must("person"),
    sa.Column("person_id", sa.BigInteger),
    sa.Column("update_id", sa.BigInteger),
    _time("at_utc", nullable=False),
    _time("noted_utc", nullable=False),
    _time("undone_utc"),
    sa.Column("number", sa.BigInteger),
    sa.Column("share", sa.Double),
    sa.Column("length_m", sa.Double),
    sa.Column("whole_m", sa.Double),
    _text("file"),
)

forecasts = sa.Table(
    "forecasts",
    metadata,
    _id(),
    _must("garden"),
    _must("service"),
    _time("issued_utc"),
    _time("fetched_utc", nullable=False),
    _time("seen_utc", nullable=False),
    _must("digest"),
    sa.Column("body", sa.LargeBinary, nullable=False),
)

kept_answers = sa.Table(
    "kept_answers",
    metadata,
    _text("cell", primary_key=True),
    _text("service", primary_key=True),
    sa.Column("body", sa.LargeBinary, nullable=False),
    _time("fetched_utc", nullable=False),
    _time("expires_utc"),
    _must("last_modified"),
    _must("etag"),
    _must("address"),
)

past_days = sa.Table(
    "past_days",
    metadata,
    _text("garden", primary_key=True),
    sa.Column("day", sa.Date, primary_key=True),
    sa.Column("hours", sa.LargeBinary, nullable=False),
)

rounds = sa.Table(
    "rounds",
    metadata,
    _id(),
    _must("garden"),
    _time("at_utc", nullable=False),
    sa.Column("forecast_id", sa.BigInteger),
    sa.Column("numbers", sa.LargeBinary, nullable=False),
)

states = sa.Table(
    "states",
    metadata,
    _text("garden", primary_key=True),
    _text("name", primary_key=True),
    _must("body"),
)

nudges = sa.Table(
    "nudges",
    metadata,
    _id(),
    sa.Column("key", sa.Text, nullable=False, unique=True),
    _must("garden"),
    _must("stage"),
    _must("ask"),
    _must("trees"),
    sa.Column("night", sa.Date, nullable=False),
    sa.Column("generation", sa.Integer, nullable=False),
    _time("opened_utc", nullable=False),
    _time("expires_utc", nullable=False),
    _must("state"),
    _must("numbers"),
    sa.Column("round_id", sa.BigInteger),
    _text("settled_by"),
    sa.Column("settled_by_id", sa.BigInteger),
    _time("settled_utc"),
    sa.Column("settled_update_id", sa.BigInteger),
)

turns = sa.Table(
    "turns",
    metadata,
    _text("garden", primary_key=True),
    _must("cell"),
    _time("due_utc", nullable=False),
    _text("kept_by"),
)


def insert_into(c: sa.Connection, table: sa.Table) -> "sqlite.Insert | postgresql.Insert":
    """An INSERT that knows ON CONFLICT, in the words of the connection's database."""
    if c.dialect.name == "postgresql":
        from sqlalchemy.dialects import postgresql  # 3 MB, of no use to a logbook in a file

        return postgresql.insert(table)
    return sqlite.insert(table)


def along_the_index(c: sa.Connection) -> None:
    """Until the transaction ends PostgreSQL walks along an index to the first rows that fit, as SQLite does.

    Left to itself it sorts or hashes all rows that wait, be it for want of fresh statistics: of 10,000 messages just
    written a claim took seconds (measured, 15.18).
    """
    if c.dialect.name == "postgresql":
        off = (sa.func.set_config(f"enable_{way}", "off", True) for way in ("sort", "hashjoin", "mergejoin"))
        c.execute(sa.select(*off))


def insert_new(c: sa.Connection, table: sa.Table, unique: Sequence[str], **values: object) -> bool:
    """Whether the row was new and is in; False if one with the same `unique` columns was there, which stays."""
    row = insert_into(c, table).on_conflict_do_nothing(index_elements=unique)
    # not rowcount, which PostgreSQL's driver does not know for an INSERT
    return c.scalar(row.returning(table.c[unique[0]]), values) is not None
