"""The tables of a book, in terms that SQLite and PostgreSQL share.

What the person typed is kept as typed, beside the value in canonical units it was read as. Times are
UTC text (SQLite has no time zones). Nothing is deleted: a row that no longer counts carries a mark.
"""

import sqlalchemy as sa

SCHEMA = 14  # the number of the newest migration; also SQLite's user_version

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _words(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def _key() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _of(table: str) -> sa.Column[int]:
    return sa.Column(f"{table}_id", sa.ForeignKey(f"{table}.id"), nullable=False, index=True)


setting = sa.Table(
    "setting",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)

machine = sa.Table(
    "machine",
    metadata,
    _key(),
    sa.Column("document", sa.JSON, nullable=False),  # as typed, in the shape of the machine file
    _words("remark"),  # shown wherever the machine is, e.g. that it is invented
    _words("added"),
    _words("removed"),  # when; empty while it counts
)

sensor = sa.Table(  # a candidate for one machine
    "sensor",
    metadata,
    _key(),
    _of("machine"),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("document", sa.JSON, nullable=False),  # its keys, as typed
    _words("added"),
    _words("removed"),
)

trial = sa.Table(
    "trial",
    metadata,
    _key(),
    _of("machine"),
    _words("name"),
    _words("note"),
    _words("axis"),  # what a reading typed in belongs to, and how it is read, unless it says otherwise
    _words("unit"),
    _words("resolution"),
    _words("protocol"),
    _words("kind"),  # "long run" or "confirming"; empty: a trial
    _words("event"),  # what happened before it that begins a new level
    _words("left_out"),  # the reason
    sa.Column("joined_to", sa.Integer),  # the trial it counts as a part of
    _words("added"),
    _words("removed"),
)

series = sa.Table(  # one candidate on one axis and side, read in one way: one `Homings`
    "series",
    metadata,
    _key(),
    _of("trial"),
    _words("sensor"),
    _words("axis"),
    _words("side"),
    sa.Column("resolution_mm", sa.Float),
    _words("protocol"),
    sa.UniqueConstraint("trial_id", "sensor", "axis", "side"),
)

power_up = sa.Table(  # homings taken without switching off; both sides of a gantry share one
    "power_up",
    metadata,
    _key(),
    _of("trial"),
    _words("sensor"),
    _words("axis"),
    _words("label"),
    _words("note"),
    _words("begun"),
    sa.UniqueConstraint("trial_id", "sensor", "axis", "label"),
)

reading = sa.Table(
    "reading",
    metadata,
    _key(),  # rises in the order taken
    _of("series"),
    sa.Column("power_up_id", sa.ForeignKey("power_up.id"), nullable=False),
    sa.Column("homing", sa.Integer, nullable=False),
    sa.Column("deviation_mm", sa.Float, nullable=False),
    _words("entered"),
    sa.Column("speed_mm_s", sa.Float),
    sa.Column("temperature_degc", sa.Float),
    sa.Column("trip_to_index_mm", sa.Float),  # where an index is used and the way to it was logged
    _words("direction"),
    _words("time"),
    _words("condition"),
    sa.Column("repeat", sa.Boolean, nullable=False, server_default=sa.false()),
    _words("set_aside"),  # the reason
    _words("undone"),  # when
    _words("doubt"),  # what is odd about it, while nobody has said that it is right
    _words("trial"),  # marks of this row alone, as a readings file has them; empty: those of its trial
    _words("kind"),
    _words("event"),
    _words("left_out"),
    _words("beside"),  # JSON: what stood beside it in columns of a file that are kept but not used
    sa.Column("ticket", sa.Text, unique=True),  # made by the sender: the same reading sent twice counts once
    sa.Index(None, "power_up_id", "series_id", "undone", "homing"),  # the last homing of a set is found at once
)

span = sa.Table(  # where nobody kept the readings: least and greatest of one power-up, and over how many homings
    "span",
    metadata,
    _key(),
    _of("trial"),
    _words("sensor"),
    _words("axis"),
    _words("side"),
    _words("label"),  # of the power-up
    sa.Column("least_mm", sa.Float),  # neither where only their difference was said
    sa.Column("greatest_mm", sa.Float),
    sa.Column("span_mm", sa.Float, nullable=False),
    sa.Column("n", sa.Integer, nullable=False),
    sa.Column("resolution_mm", sa.Float),
    sa.Column("own_zeros", sa.Boolean, nullable=False, server_default=sa.false()),
    _words("set_aside"),  # the reason
    _words("undone"),  # when
    _words("beside"),  # as of a reading
    _words("added"),
)

act = sa.Table(  # what someone changed of how a trial, a reading or an import counts: rows are only ever added
    "act",
    metadata,
    _key(),
    sa.Column("about", sa.Text, nullable=False),  # "trial", "reading" or "arrival"
    sa.Column("row_id", sa.Integer, nullable=False),
    sa.Column("mark", sa.Text, nullable=False),  # its column, or what was done
    _words("before"),
    _words("after"),
    _words("added"),
    sa.Index(None, "about", "row_id"),
)

trail = sa.Table(  # who changed what: rows are only ever added
    "trail",
    metadata,
    _key(),
    _words("added"),
    _words("actor"),  # who signed in, else the user of the computer or of the database
    _words("did"),  # "added" or "changed"
    _words("about"),  # a table
    _words("field"),
    _words("before"),
    _words("after"),
    sa.Column("row_id", sa.Integer, nullable=False),  # the last, of several
    sa.Column("n", sa.Integer, nullable=False),  # how many rows
)

noise = sa.Table(  # false trips counted under one condition of a noise hunt, while so long was watched
    "noise",
    metadata,
    _key(),
    _of("trial"),
    sa.Column("condition", sa.Text, nullable=False),
    sa.Column("trips", sa.Integer, nullable=False),
    sa.Column("watched_s", sa.Float, nullable=False),
    _words("note"),
    _words("added"),
    _words("undone"),  # when
)

arrival = sa.Table(  # a file or paste that came in: the same one is noticed when it comes again
    "arrival",
    metadata,
    _key(),
    _of("trial"),
    _words("name"),
    _words("digest"),  # of the text
    _words("rows_digest"),  # of what was read from it, in whatever form it came
    _words("added"),
    sa.Column("readings", sa.Integer, nullable=False),
)

sheet = (
    sa.Table(  # what was typed at another station, e.g. a wiring plan or a round of squaring; the newest counts
        "sheet",
        metadata,
        _key(),
        _of("machine"),
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("document", sa.JSON, nullable=False),
        _words("added"),
    )
)

logged = sa.Table(  # one entry of the log of check homings; left and right of one homing are two rows
    "logged",
    metadata,
    _key(),
    sa.Column("machine_id", sa.ForeignKey("machine.id"), nullable=False),
    sa.Column("moment_s", sa.Float, nullable=False),  # seconds since 1970-01-01T00:00Z
    _words("time"),  # as written
    _words("axis"),
    _words("side"),
    _words("power_up"),
    _words("homing"),
    _words("condition"),
    _words("event"),
    _words("failed"),
    _words("acknowledged"),
    _words("note"),
    _words("source"),  # what it came from: a page, a file, a program
    _words("added"),
    _words("undone"),  # when it was taken back
    sa.Column("deviation_mm", sa.Float),
    sa.Column("temperature_degc", sa.Float),
    sa.Column("cycles", sa.Float),
    sa.Column("false_trips", sa.Float),
    sa.Column("hours", sa.Float),
    sa.Column("resolution_mm", sa.Float),
    sa.Column("ticket", sa.Text, unique=True),  # made by the sender, as that of a reading
    sa.Index(None, "machine_id", "moment_s"),
)

checklist = sa.Table(  # what was checked at a machine: the newest row of an item counts, the older stay
    "checklist",
    metadata,
    _key(),
    _of("machine"),
    sa.Column("item", sa.Text, nullable=False),  # its key in the list
    sa.Column("outcome", sa.Text, nullable=False),
    _words("measured"),  # as written
    _words("note"),
    _words("checked_by"),
    _words("rests_on"),  # SHA-256 of what it was done on
    _words("added"),
    sa.Column("ticket", sa.Text),  # made by the sender, as that of a reading
    sa.Index(None, "ticket", unique=True),
)

person = sa.Table(  # who may sign in where the book is open to a network; it goes into no copy, archive or rescue
    "person",
    metadata,
    _key(),
    sa.Column("name", sa.Text, nullable=False),
    _words("secret"),  # what scrypt makes of a password
    _words("added"),
    _words("removed"),
)

KEPT_BACK = (person.name,)  # tables that leave the book nowhere

result = sa.Table(  # figures as computed once, so that a record can be checked later
    "result",
    metadata,
    _key(),
    _of("machine"),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("digest", sa.Text, nullable=False),  # of the inputs
    sa.Column("version", sa.Text, nullable=False),  # of holdzero
    sa.Column("document", sa.JSON, nullable=False),
    _words("added"),
)

digest = sa.Table(  # what was written, so that a row that is no longer so is found; kept by `store.digests`
    "digest",
    metadata,
    _key(),
    sa.Column("about", sa.Text, nullable=False),  # a table
    sa.Column("of_set", sa.Text, nullable=False),  # its row, or "series/power-up" of readings
    sa.Column("n", sa.Integer, nullable=False),  # rows
    sa.Column("digest", sa.Text, nullable=False),  # hexadecimal: the sum of those of its rows
    _words("since"),  # when it was taken of rows that were there already; empty: kept from the first
    sa.UniqueConstraint("about", "of_set"),
)
