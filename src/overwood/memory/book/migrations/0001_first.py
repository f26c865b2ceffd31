from django.db import migrations, models

from overwood.memory.book.migrations._written import number, record


class Migration(migrations.Migration):
    initial = True
    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Batch",
            fields=[
                number(),
                ("file_name", models.TextField()),
                ("digest", models.CharField(db_index=True, max_length=64)),
                ("entered_at", models.DateTimeField()),
                ("rows", models.JSONField(default=dict)),
                ("withdrawn_at", models.DateTimeField(null=True)),
            ],
            options={"db_table": "batch"},
        ),
        migrations.CreateModel(
            name="Quarantine",
            fields=[
                number(),
                ("file_name", models.TextField()),
                ("digest", models.CharField(max_length=64)),
                ("content", models.BinaryField()),
                ("mapping", models.JSONField(null=True)),
                ("problems", models.JSONField()),
                ("entered_at", models.DateTimeField()),
                ("settled_at", models.DateTimeField(null=True)),
                ("outcome", models.TextField(default="")),
            ],
            options={"db_table": "quarantine"},
        ),
        migrations.CreateModel(
            name="SavedMapping",
            fields=[
                number(),
                ("name", models.TextField(unique=True)),
                ("signature", models.CharField(db_index=True, max_length=64)),
                ("spec", models.JSONField()),
                ("saved_at", models.DateTimeField()),
            ],
            options={"db_table": "mapping"},
        ),
        record("AcornTree", "acorn_trees", "acorn_trees_visit_ac9c51_idx",
            "visit tree species:whole species_written dbh_in:real bearing:yes acorns:whole method limbs:whole "
            "seconds:real",
        ),
        record("Crown", "crowns", "crowns_visit_7df599_idx",
            "visit tree species:whole species_written dbh_in:real radius_north_ft:real radius_east_ft:real "
            "radius_south_ft:real radius_west_ft:real",
        ),
        record("Decision", "decisions", "decisions_decisio_3cf5f6_idx",
            "decision stand decided_on:day advised_step chosen_step overridden:yes reason decided_by "
            "rulebook_version",
        ),
        record("LightReading", "light_readings", "light_readi_visit_1f9214_idx",
            "visit point light_pct:real device height_ft:real",
        ),
        record("Operation", "operations", "operations_operati_8382a1_idx",
            "operation stand kind state started_on:day ended_on:day area_ac:real stems_ac:real "
            "ba_before_ft2_ac:real ba_after_ft2_ac:real dead_share:real cost_usd:real income_usd:real note",
        ),
        record("Point", "points", "points_visit_d0a584_idx",
            "visit point stratum longitude_deg:real latitude_deg:real strip_length_ft:real in_stand:yes note",
        ),
        record("Property", "properties", "properties_propert_ab98f4_idx",
            "property name objective latitude_deg:real longitude_deg:real note",
        ),
        record("Ring", "rings", "rings_visit_40f2eb_idx",
            "visit layer design baf_ft2_ac:real plot_area_ac:real strip_width_ft:real low_dbh_in:real "
            "high_dbh_in:real",
        ),
        record("Seedling", "seedlings", "seedlings_visit_9eceba_idx",
            "visit point line species:whole species_written height_class height_ft:real stems:whole "
            "basal_diameter_in:real origin place browsed:whole",
        ),
        record("Sighting", "sightings", "sightings_sightin_38d562_idx",
            "sighting stand seen_on:day kind subject area_ac:real note",
        ),
        record("SiteTree", "site_trees", "site_trees_visit_804957_idx",
            "visit tree species:whole species_written dbh_in:real age_yr:real height_ft:real",
        ),
        record("Stand", "stands", "stands_stand_c0f66b_idx",
            "stand property name area_ac:real slope_pct:real aspect_deg:real slope_position site_index_ft:real "
            "site_index_species:whole birth_year:whole reserve:yes boundary_wkt note",
        ),
        record("Stratum", "strata", "strata_stand_aab198_idx", "stand stratum area_ac:real"),
        record("Tree", "trees", "trees_visit_c5eb11_idx",
            "visit point tree species:whole species_written dbh_in:real stems:whole status crown_class "
            "height_ft:real crown_ratio_pct:real dieback_pct:real edge_count:whole",
        ),
        record("Visit", "visits", "visits_visit_7289e7_idx", "visit stand kind visited_on:day observer note"),
    ]
