"""How a step says which columns it adds: ``"visit dbh_in:real"`` is a text and a number. What a word here means never
changes, or a book made anew would differ from one brought along."""

import django.db.models.deletion
from django.db import migrations, models

_KINDS = {
    "text": lambda: models.TextField(default=""),
    "whole": lambda: models.IntegerField(null=True),
    "real": lambda: models.FloatField(null=True),
    "yes": lambda: models.BooleanField(null=True),
    "day": lambda: models.DateField(null=True),
}


def number():
    return ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID"))


def columns(written):
    """Name and field of each word, ``name`` or ``name:kind``."""
    pairs = (word.partition(":") for word in written.split())
    return [(name, _KINDS[kind or "text"]()) for name, _, kind in pairs]


def record(name, table, index, written):
    """A table of field records, looked up by its first column."""
    own = columns(written)
    kept_with = models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, to="book.batch")
    fields = [
        ("id", models.UUIDField(primary_key=True, serialize=False)),
        ("replaces", models.UUIDField(db_index=True, null=True)),
        *own,
        ("batch", kept_with),
    ]
    indexes = [models.Index(fields=[own[0][0]], name=index)]
    return migrations.CreateModel(name=name, fields=fields, options={"db_table": table, "indexes": indexes})


def added(model, written):
    return [migrations.AddField(model_name=model, name=name, field=field) for name, field in columns(written)]
