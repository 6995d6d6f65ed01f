"""Today, the search box, the workshop's own settings, and the pages for what went wrong."""

from django.shortcuts import render


def today(request):
    return render(request, "house/today.html")


def find(request):
    return render(request, "house/find.html")


def workshop(request):
    return render(request, "house/workshop.html")


def exchange(request):
    return render(request, "house/exchange.html")


def not_found(request, exception):
    return render(request, "404.html", status=404)


def broken(request):
    return render(request, "500.html", status=500)
