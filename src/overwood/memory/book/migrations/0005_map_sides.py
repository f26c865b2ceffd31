from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0004_stem_map_place")]

    operations = [
        *added("lightreading", "east_ft:real measures north_ft:real"),
        *added("stemmap", "buffer_ft:real edge_east edge_north edge_south edge_west"),
        *added("tree", "damage"),
    ]
