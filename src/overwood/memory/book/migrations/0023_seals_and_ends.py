from django.db import migrations, models

from overwood.memory.book.migrations._written import added


def _seal_old_lines(apps, schema_editor):
    """Lines written before the seals get theirs, so that the log follows from its first line."""
    from overwood.memory.book.audit import mark_of

    before = ""
    for line in apps.get_model("book", "Trace").objects.order_by("id"):
        line.mark = before = mark_of(before, line)
        line.save(update_fields=["mark"])


class Migration(migrations.Migration):
    dependencies = [("book", "0011_ring_looked_for")]

    operations = [
        *added("key", "ends_on:day"),
        migrations.AddField(model_name="trace", name="mark", field=models.CharField(default="", max_length=64)),
        migrations.RunPython(_seal_old_lines, migrations.RunPython.noop),
    ]
