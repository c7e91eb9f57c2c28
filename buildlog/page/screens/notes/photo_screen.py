"""A photo of the car or of a piece of it, taken here or chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.drawing.form_fields import FormField, form

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """The camera, the gallery, and what is seen."""
    fields = [
        FormField("photo", "photo", "Take a photo"),
        FormField("text", "caption", "What is seen"),
    ]
    lead = "It is filed with the car; where it was taken is removed from it."
    return form(
        asked, "photo", fields, said="Take a photo, or choose one.", lead=lead,
        main="Save photo", what=asked.query.get("of", ""),
    )  # fmt: skip
