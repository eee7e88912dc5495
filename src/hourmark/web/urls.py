"""The addresses, grouped by what they are about."""

from django.urls import include, path
from django.views.generic import TemplateView

from hourmark.web import guard
from hourmark.web.pages import call, case, check, clinic, health, kit, order, plan, reason, release, slots, today

urlpatterns = [
    path("", today.today, name="today"),
    path("cases/new/", today.new_case, name="new-case"),
    path("cases/<slug:case>/", case.case, name="case"),
    path("cases/<slug:case>/details/", case.details, name="details"),
    path("cases/<slug:case>/close/", case.close, name="close"),
    path("cases/<slug:case>/void/", case.void, name="void"),
    path("cases/<slug:case>/reason/", reason.reason, name="reason"),
    path("cases/<slug:case>/order/", order.order, name="order"),
    path("cases/<slug:case>/order/<int:version>/countersign/", order.countersign, name="countersign"),
    path("cases/<slug:case>/order/<int:version>/withdraw/", order.withdraw, name="withdraw"),
    path("cases/<slug:case>/kit/", kit.kit, name="kit"),
    path("cases/<slug:case>/kit/preview/", kit.preview, name="preview"),
    path("cases/<slug:case>/kit/<slug:product>/carton/", kit.carton, name="carton"),
    path("cases/<slug:case>/plan/", plan.plan, name="plan"),
    path("cases/<slug:case>/check/", check.check, name="check"),
    path("cases/<slug:case>/call/", call.call, name="call"),
    path("cases/<slug:case>/call/tried/", call.tried, name="tried"),
    path("cases/<slug:case>/call/note/", call.note, name="note"),
    path("cases/<slug:case>/release/", release.release, name="release"),
    path("cases/<slug:case>/sheets/<int:version>/<str:name>", case.sheet, name="sheet"),
    path("slots/", slots.slots, name="slots"),
    path("slots/place/", slots.place, name="place-slot"),
    path("slots/list/", slots.upload, name="upload-slots"),
    path("slots/<str:day>/<slug:slot>/give/", slots.give, name="give-slot"),
    path("rules/", clinic.rules, name="rules"),
    path("rules/barrel/", clinic.barrel, name="barrel"),
    path("sources/", clinic.sources, name="sources"),
    path("staff/", clinic.staff, name="staff"),
    path("unlock", guard.unlock, name="unlock"),
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("accounts/password/reset/", TemplateView.as_view(template_name="password-lost.html")),
    path("accounts/", include("allauth.urls")),
]
