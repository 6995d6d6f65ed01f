from django.urls import path, re_path

from pourwright.workshop.hazard import views

app_name = "hazard"
urlpatterns = [
    path("", views.index, name="index"),
    path("substances/", views.substances, name="substances"),
    path("items/<int:pk>/", views.item, name="item"),
    path("items/<int:pk>/alone/", views.alone_in_wax, name="alone"),
    path("items/<int:pk>/sheet/", views.sheet_add, name="sheet_add"),
    path("items/<int:pk>/type/", views.type_in, name="type"),
    path("items/<int:pk>/paste/", views.paste, name="paste"),
    path("compositions/<int:pk>/", views.composition, name="composition"),
    path("compositions/<int:pk>/withdraw/", views.withdraw, name="withdraw"),
    path("compositions/<int:pk>/discard/", views.discard, name="discard"),
    path("compositions/<int:pk>/again/", views.again, name="again"),
    re_path(r"^sheets/(?P<sha256>[0-9a-f]{64})\.pdf$", views.sheet_file, name="sheet"),
    re_path(
        r"^sheets/(?P<sha256>[0-9a-f]{64})/page-(?P<page>[0-9]{1,4})\.png$",
        lambda request, sha256, page: views.sheet_page(request, sha256, int(page)),
        name="page",
    ),
]
