"""The handout: what a patient is given. The page as data, its words by language, its drawings, and how it is printed."""

from hourmark.handout.content import Released, Sheet
from hourmark.handout.sheet import patient_sheet
from hourmark.handout.text import sheet_text

__all__ = ["Released", "Sheet", "patient_sheet", "sheet_text"]
