from django.db import migrations

from overwood.memory.book.migrations._written import record


class Migration(migrations.Migration):
    dependencies = [("book", "0002_timber_fields")]

    operations = [
        record("Stem", "stems", "stems_visit_bb0151_idx",
            "visit stem species:whole species_written dbh_in:real east_ft:real north_ft:real crown_class "
            "height_ft:real crown_base_ft:real radius_north_ft:real radius_east_ft:real radius_south_ft:real "
            "radius_west_ft:real grade dieback_pct:real acorns:real must",
        ),
        record("StemMap", "stem_maps", "stem_maps_visit_3af081_idx", "visit width_ft:real height_ft:real edge"),
    ]
