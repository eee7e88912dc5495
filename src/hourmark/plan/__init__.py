"""The plan: order, kit and slot of each case become a minute and a mark, or named refusals."""

from hourmark.plan.case import plan_case, worst_of
from hourmark.plan.mixes import MixRow
from hourmark.plan.night import NightPlan, plan_night
from hourmark.plan.planned import CasePlan, PlannedInjection
from hourmark.plan.questions import overstimulation
from hourmark.plan.storage import Keep, keep_until
from hourmark.plan.timing import Timed, antagonist_gap, band_name, when

__all__ = [
    "CasePlan",
    "Keep",
    "MixRow",
    "NightPlan",
    "PlannedInjection",
    "Timed",
    "antagonist_gap",
    "band_name",
    "keep_until",
    "overstimulation",
    "plan_case",
    "plan_night",
    "when",
    "worst_of",
]
