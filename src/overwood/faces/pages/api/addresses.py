"""Addresses of the API, as Django wants them."""

from overwood.faces.pages.api import api

urlpatterns = api.urls[0]
