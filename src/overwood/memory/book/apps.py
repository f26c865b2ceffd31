from django.apps import AppConfig


class BookConfig(AppConfig):
    name = "overwood.memory.book"
    label = "book"
    default_auto_field = "django.db.models.BigAutoField"
