from django.urls import path

from pourwright.workshop.planning import means_views

app_name = "planning"
urlpatterns = [
    path("wanted/", means_views.wanted, name="wanted"),
    path("when/", means_views.when, name="when"),
    path("means/", means_views.means, name="means"),
    path("means/melter/<int:pk>/", means_views.melter, name="melter"),
    path("wanted/design/<int:pk>/", means_views.design, name="design"),
]
