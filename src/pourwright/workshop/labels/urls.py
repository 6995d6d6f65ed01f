from django.urls import path

from pourwright.workshop.labels import views

app_name = "labels"
urlpatterns = [
    path("", views.index, name="index"),
    path("design/<int:pk>/", views.design, name="design"),
    path("design/<int:pk>/<slug:face>.pdf", views.face_pdf, name="face_pdf"),
    path("design/<int:pk>/<slug:face>.svg", views.face_svg, name="face_svg"),
    path("lot/<str:code>/", views.lot, name="lot"),
    path("sheets/new/", views.new_sheet, name="new_sheet"),
    path("sheets/<int:pk>/", views.sheet, name="sheet"),
    path("test/<str:key>.pdf", views.test_page, name="test_page"),
    path("printers/new/", views.new_printer, name="new_printer"),
    path("printers/<int:pk>/", views.printer, name="printer"),
]
