"""The tables of the book. Field records are only ever added: a correction is a new row that names the one it replaces.

The record tables are made from the shapes in ground.records, so a field is defined once.
"""

from django.db import models

from overwood.ground.columns import Column
from overwood.ground.records import TABLES, Table


class Ruling(models.Model):
    """A person's word on what counts: an undo, or the settling of a conflict. It can be lifted, and stays on record."""

    at = models.DateTimeField()
    by = models.TextField(default="")
    kind = models.TextField()
    about = models.TextField()
    because = models.TextField(default="")
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.TextField(default="")

    class Meta:
        db_table = "ruling"


class Aside(models.Model):
    """One record that a ruling takes out of the current view."""

    ruling = models.ForeignKey(Ruling, on_delete=models.PROTECT)
    table = models.TextField()
    row = models.UUIDField(db_index=True)

    class Meta:
        db_table = "aside"


class Disputed(models.Model):
    """One of several records that claim one key; worked out anew from the records whenever they change.

    ``is_out`` keeps it out of the current view; ``is_rival`` says that the claims differ, so that a person must settle
    it.
    """

    table = models.TextField()
    row = models.UUIDField(db_index=True)
    lead = models.TextField()
    key = models.JSONField()
    is_out = models.BooleanField()
    is_rival = models.BooleanField()

    class Meta:
        db_table = "disputed"
        indexes = [models.Index(fields=["table", "lead"])]


class Batch(models.Model):
    """One entry of records: a file brought in, or a decision typed. Withdrawing it hides its rows, and keeps them."""

    file_name = models.TextField()
    digest = models.CharField(max_length=64, db_index=True)
    entered_at = models.DateTimeField()
    entered_by = models.TextField(default="")
    rows = models.JSONField(default=dict)
    withdrawn_at = models.DateTimeField(null=True)
    ruling = models.ForeignKey(Ruling, null=True, on_delete=models.PROTECT)

    class Meta:
        db_table = "batch"
        constraints = [
            # One content counts once, however many processes bring it in at the same moment.
            models.UniqueConstraint(
                fields=["digest"], condition=models.Q(withdrawn_at=None), name="one_entry_of_a_content"
            ),
        ]


class Quarantine(models.Model):
    """A file with faults, kept whole until its good rows are released or it is set aside."""

    file_name = models.TextField()
    digest = models.CharField(max_length=64)
    content = models.BinaryField()
    mapping = models.JSONField(null=True)
    problems = models.JSONField()
    entered_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True)
    outcome = models.TextField(default="")

    class Meta:
        db_table = "quarantine"


class SavedMapping(models.Model):
    """How the headings, units and codes of one layout of sheet are read, found again by its headings alone."""

    name = models.TextField()
    signature = models.CharField(max_length=64, unique=True)
    spec = models.JSONField()
    saved_at = models.DateTimeField()

    class Meta:
        db_table = "mapping"


class Upload(models.Model):
    """A file sent by a browser that is not settled yet, with what was answered so far; gone once it is stored or put
    away."""

    who = models.TextField(db_index=True)
    file_name = models.TextField()
    content = models.BinaryField()
    answers = models.JSONField(default=dict)
    sent_at = models.DateTimeField()

    class Meta:
        db_table = "upload"


class Kept(models.Model):
    """What was made of a stand's records: when, by whom, and the versions of rules and data it rests on."""

    stand = models.TextField(db_index=True)
    made_on = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.TextField(default="")
    rules_version = models.TextField()
    data_version = models.TextField()

    class Meta:
        abstract = True


class Answer(Kept):
    """An answer as it was made: told again later, scored by what comes, never changed.

    ``stand_mark`` says which records of the stand it was made from, ``digest`` what it says.
    """

    kind = models.TextField()
    settings = models.JSONField()
    result = models.JSONField()
    stand_mark = models.TextField(default="")
    digest = models.TextField(default="")

    class Meta:
        db_table = "answer"


class Paper(Kept):
    """A document as it was printed, with the words of the person who signs."""

    which = models.TextField()
    title = models.TextField()
    own_words = models.TextField(default="")
    content = models.BinaryField()

    class Meta:
        db_table = "paper"


class Work(models.Model):
    """Long work: what was asked, how far it is, what came of it. It outlives the server process that does it."""

    kind = models.TextField()
    title = models.TextField()
    asked = models.JSONField()
    who = models.TextField(default="")
    state = models.TextField(db_index=True)
    done = models.IntegerField(default=0)
    total = models.IntegerField(default=1)
    note = models.TextField(default="")
    fault = models.TextField(default="")
    result = models.JSONField(null=True)
    stop = models.BooleanField(default=False)
    worker = models.TextField(default="")
    data_version = models.TextField(default="")
    made_at = models.DateTimeField()
    # The worker says that it lives; work of one that fell silent is taken up anew.
    beat_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "work"


class Draft(models.Model):
    """What a person has on the table and has not entered: one for each person, kind and stand."""

    who = models.TextField(default="")
    kind = models.TextField()
    stand = models.TextField()
    made_for = models.TextField()
    stamp = models.IntegerField(default=1)
    content = models.JSONField()
    changed_at = models.DateTimeField()

    class Meta:
        db_table = "draft"
        constraints = [models.UniqueConstraint(fields=["who", "kind", "stand"], name="one_draft")]


class Secret(models.Model):
    """A secret address or token given out: only its digest is kept, so that the book does not hold what opens it."""

    digest = models.CharField(max_length=64, unique=True)
    made_by = models.TextField()
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        abstract = True


class Guest(Secret):
    """An address that shows one kept paper to its owner, until a day, with whom to call about it."""

    paper = models.ForeignKey(Paper, on_delete=models.PROTECT)
    ends_on = models.DateField()
    contact = models.TextField(default="")
    telephone = models.TextField(default="")

    class Meta:
        db_table = "guest"


class Key(Secret):
    """A token with which a program asks the API as the account that made it."""

    label = models.TextField()
    ends_on = models.DateField(null=True)

    class Meta:
        db_table = "api_key"


class Trace(models.Model):
    """What a person of the office changed, when; only ever added to. Each mark is made from its line and the mark
    before."""

    at = models.DateTimeField(db_index=True)
    who = models.TextField(db_index=True)
    role = models.TextField()
    what = models.TextField()
    address = models.TextField()
    status = models.IntegerField()
    mark = models.CharField(max_length=64, default="")

    class Meta:
        db_table = "trace"


class Walk(models.Model):
    """What a phone takes into the woods: stands, points and designs, sealed by a key of its own, until a day.

    ``phones`` holds for each phone the highest number it said it had given and when it was last heard of; ``settled``
    the phone whose tally stands for a point that two phones took.
    """

    id = models.UUIDField(primary_key=True)
    key = models.CharField(max_length=64)
    content = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.TextField(default="")
    expires_on = models.DateField()
    recalled_at = models.DateTimeField(null=True)
    phones = models.JSONField(default=dict)
    settled = models.JSONField(default=dict)

    class Meta:
        db_table = "walk"


class Tap(models.Model):
    """One tap on a phone, as it arrived: a row of the contract, or the taking back of an earlier tap. Only ever added
    to."""

    id = models.UUIDField(primary_key=True)
    walk = models.ForeignKey(Walk, on_delete=models.PROTECT)
    device = models.TextField()
    seq = models.IntegerField()
    made_at = models.TextField()
    act = models.TextField()
    table = models.TextField(default="")
    row = models.JSONField(default=dict)
    of = models.UUIDField(null=True)
    came_at = models.DateTimeField()

    class Meta:
        db_table = "tap"


class Photo(models.Model):
    """A photo of a plot, as the phone made it: scaled, without the camera's notes of place and maker. Only ever added
    to."""

    id = models.UUIDField(primary_key=True)
    walk = models.ForeignKey(Walk, on_delete=models.PROTECT)
    device = models.TextField()
    made_at = models.TextField()
    visit = models.TextField()
    point = models.TextField()
    jpeg = models.BinaryField()
    came_at = models.DateTimeField()

    class Meta:
        db_table = "photo"


class Stamp(models.Model):
    """Which version of the program brought the book to its shape, for an older program to name."""

    version = models.TextField()
    at = models.DateTimeField()

    class Meta:
        db_table = "stamp"


class SecondFactor(models.Model):
    """What an account's telephone shows codes from: sealed with the office's secret, so that a copy of the book alone
    makes no code."""

    who = models.CharField(max_length=150, unique=True)
    secret = models.TextField()
    # The step of the newest code that opened the desk: no code opens it twice.
    last_step = models.BigIntegerField(default=0)
    # Digests of codes on paper, each good once.
    spare = models.JSONField(default=list)
    confirmed_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "second_factor"


class Passkey(models.Model):
    """The public half of a key pair that a device of an account holds: it opens nothing by itself."""

    who = models.CharField(max_length=150, db_index=True)
    label = models.TextField()
    # The device's name for the pair, in hexadecimal.
    credential = models.TextField(unique=True)
    data = models.BinaryField()
    # How often the device says it was used, and when the newest answer that opened the desk was asked for: none opens
    # it twice.
    count = models.BigIntegerField(default=0)
    made_at = models.DateTimeField()
    begun_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "passkey"


class Link(models.Model):
    """An address that opens an account once: an invitation (with a role) or a new password (without)."""

    digest = models.CharField(max_length=64, unique=True)
    who = models.CharField(max_length=150)
    role = models.TextField(default="")
    made_by = models.TextField()
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "link"


class Fact(models.Model):
    """What every field record carries."""

    id = models.UUIDField(primary_key=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, db_index=False)
    replaces = models.UUIDField(null=True, db_index=True)
    # Where the record was made, "" at this desk; when it was made lies in its identifier.
    record_device = models.TextField(default="", db_default="")

    class Meta:
        abstract = True


def _field(column: Column) -> models.Field:
    if column.kind == "number":
        return models.FloatField(null=True)
    if column.kind in ("integer", "species"):
        return models.IntegerField(null=True)
    if column.kind == "date":
        return models.DateField(null=True)
    if column.kind == "boolean":
        return models.BooleanField(null=True)
    return models.TextField(default="")


def _model(table: Table) -> type[Fact]:
    fields = {name: _field(column) for name, column in table.columns.items()}
    meta = type("Meta", (), {"db_table": table.name, "indexes": [models.Index(fields=[table.key[0]])]})
    return type(table.record.__name__, (Fact,), {"__module__": __name__, "Meta": meta, **fields})


MODELS: dict[str, type[Fact]] = {name: _model(table) for name, table in TABLES.items()}
