from django.db import migrations, models


def _by_sheet(apps, schema_editor):
    """One mapping a sheet instead of one a file, without the stand, day and plot size of the file it was made for."""
    kept = apps.get_model("book", "SavedMapping")
    for row in list(kept.objects.order_by("-saved_at", "-id")):
        sheets = row.spec.get("sheets", []) if isinstance(row.spec, dict) else []
        for place, sheet in enumerate(entry for entry in sheets if entry.get("table")):
            kept.objects.create(name=row.name, signature=f"moved {row.id} {place}", spec=layout(sheet), saved_at=row.saved_at)
        row.delete()


def _waiting(apps, schema_editor):
    """Files that wait keep the answers they were given, apart from how their headings are read."""
    for row in apps.get_model("book", "Quarantine").objects.filter(settled_at=None):
        sheets = row.mapping.get("sheets", []) if isinstance(row.mapping, dict) else []
        answers = {"settings": {}, "codes": {}}
        for sheet in (entry for entry in sheets if entry.get("table")):
            answers["settings"] |= {f"{sheet['sheet']}.{name}": value for name, value in sheet.get("constants", {}).items() if value}
            answers["codes"] |= {w: c for w, c in sheet.get("codes", {}).get("species", {}).items() if c}
        if sheets:
            row.mapping = {"answers": answers, "mappings": []}
            row.save(update_fields=["mapping"])


def layout(sheet):
    """What a mapping keeps of one sheet."""
    columns = {source["from"]: column for column, source in sheet["columns"].items()}
    columns |= {heading: "-" for heading in sheet.get("not_used", [])}
    return {
        "signature": "",
        "table": sheet["table"],
        "headings": list(columns),
        "columns": columns,
        "units": {column: source["unit"] for column, source in sheet["columns"].items() if source.get("unit")},
        "codes": {column: {w: c for w, c in codes.items() if c} for column, codes in sheet.get("codes", {}).items()},
    }


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0012_conflicts'),
    ]

    operations = [
        migrations.AlterField(
            model_name='savedmapping',
            name='name',
            field=models.TextField(),
        ),
        migrations.RunPython(_by_sheet, migrations.RunPython.noop),
        migrations.RunPython(_waiting, migrations.RunPython.noop),
        migrations.AlterField(
            model_name='savedmapping',
            name='signature',
            field=models.CharField(max_length=64, unique=True),
        ),
    ]
