from django.db import migrations

from overwood.memory.book.migrations._written import record


class Migration(migrations.Migration):
    dependencies = [("book", "0005_map_sides")]

    operations = [
        record("Fuel", "fuels", "fuels_visit_207e5a_idx",
            "visit point fuel_model litter_in:real duff_in:real oak_leaf_pct:real leave_trees:whole "
            "leave_trees_with_debris:whole",
        ),
    ]
