"""The addresses of hourmark, and beside them a plain list of as many rows as the board has."""

from django.http import HttpRequest, HttpResponse
from django.template import Context, Engine
from django.urls import path

from hourmark.web.models import Person
from hourmark.web.urls import urlpatterns as ours

_LIST = Engine().from_string(
    "<!doctype html><title>List</title><table>{% for one in people %}<tr><td>{{ one.case }}</td><td>{{ one.initials }}</td>"
    "<td>{{ one.phones }}</td></tr><tr><td>{{ one.case }}</td><td>{{ one.born }}</td><td>{{ one.phones }}</td></tr>{% endfor %}</table>"
)


def plain(_: HttpRequest) -> HttpResponse:
    """Every person from one table, two rows each."""
    return HttpResponse(_LIST.render(Context({"people": Person.objects.order_by("case")})))


urlpatterns = [*ours, path("plain/", plain)]
