"""Test burns: the book, the bench at a burn, and what to burn next."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
