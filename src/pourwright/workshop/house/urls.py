from django.urls import path, re_path

from pourwright.workshop.house import exchange_views, views

urlpatterns = [
    path("", views.today, name="today"),
    path("find/", views.find, name="find"),
    path("workshop/", views.workshop, name="workshop"),
    path("jobs/<int:pk>/", views.job, name="job"),
    path("jobs/<int:pk>/stop/", views.job_stop, name="job_stop"),
    path("exchange/", exchange_views.page, name="exchange"),
    path("exchange/everything.xlsx", exchange_views.everything, name="exchange_everything"),
    path("exchange/workshop.backup", exchange_views.backup, name="exchange_backup"),
    path(
        "exchange/template/<slug:kind>.csv", exchange_views.template_file, name="exchange_template"
    ),
    re_path(
        r"^exchange/(?P<name>[a-z-]+)\.(?P<ending>csv|xlsx)$",
        exchange_views.table_file,
        name="exchange_table",
    ),
]
