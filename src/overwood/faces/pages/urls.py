"""Addresses of the pages."""

from __future__ import annotations

from django.urls import path

from overwood.faces.pages import api, calc, fire, futures, guard, importing, light, money, papers, property, records, rules, stand

urlpatterns = [
    path("api/", api.api.urls),
    path("launch/<str:token>/", guard.launch),
    path("", property.page),
    path("due.ics", property.calendar),
    path("stand/<str:name>/", stand.page),
    path("stand/<str:name>/why/<str:figure>/", stand.why),
    path("stand/<str:name>/what-if/", stand.what_if),
    path("stand/<str:name>/decide/", stand.decide),
    path("stand/<str:name>/chart/<str:which>.svg", stand.chart),
    path("light/<str:name>/", light.page),
    path("light/<str:name>/table/", light.table),
    path("light/<str:name>/change/", light.change),
    path("light/<str:name>/search/", light.search),
    path("light/<str:name>/search/<int:number>/", light.searched),
    path("light/<str:name>/trees.csv", light.trees),
    path("light/<str:name>/keep/", light.keep),
    path("fire/<str:name>/", fire.page),
    path("futures/<str:name>/", futures.page),
    path("futures/<str:name>/run/", futures.run),
    path("futures/<str:name>/run/<int:number>/", futures.running),
    path("money/<str:name>/", money.page),
    path("papers/<str:name>/", papers.page),
    path("papers/<str:name>/<str:which>.pdf", papers.paper),
    path("papers/<str:name>/<str:which>/keep", papers.keep),
    path("papers/<str:name>/kept/<int:number>", papers.kept),
    path("import/", importing.page),
    path("import/waiting/<int:number>/", importing.waiting),
    path("import/entry/<int:number>/", importing.entry),
    path("records/", records.page),
    path("records/<str:table>/", records.form),
    path("tally/<str:name>/", records.tally),
    path("rules/", rules.page),
    path("words/", rules.words),
    path("sources/", rules.sources),
    path("calc/", calc.page),
    path("calc/<str:name>/", calc.formula),
]
handler404 = guard.not_found
handler500 = guard.broken
