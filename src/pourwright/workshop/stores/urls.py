from django.urls import path

from pourwright.workshop.stores import views

app_name = "stores"
urlpatterns = [
    path("", views.index, name="index"),
    path("items/new/", views.item_new, name="item_new"),
    path("items/new/<str:kind>/", views.item_new, name="item_new"),
    path("items/<int:pk>/", views.item, name="item"),
    path("items/<int:pk>/edit/", views.item_edit, name="item_edit"),
    path("items/<int:pk>/level/", views.level, name="level"),
    path("vessel-preview/", views.vessel_preview, name="vessel_preview"),
    path("suppliers/", views.suppliers, name="suppliers"),
    path("suppliers/new/", views.supplier_new, name="supplier_new"),
    path("suppliers/<int:pk>/", views.supplier, name="supplier"),
    path("suppliers/<int:pk>/edit/", views.supplier_edit, name="supplier_edit"),
    path("receipts/", views.receipts, name="receipts"),
    path("receipts/new/", views.receipt_new, name="receipt_new"),
    path("receipts/<str:number>/", views.receipt, name="receipt"),
    path("lots/<str:code>/", views.lot, name="lot"),
    path("lots/<str:code>/count/", views.count, name="count"),
    path("lots/<str:code>/scrap/", views.scrap, name="scrap"),
    path("lots/<str:code>/set-aside/", views.set_aside, name="set_aside"),
    path("opening/", views.opening, name="opening"),
    path("ledger/", views.ledger, name="ledger"),
    path("ledger/<int:pk>/", views.entry, name="entry"),
    path("ledger/<int:pk>/undo/", views.undo, name="undo"),
]
