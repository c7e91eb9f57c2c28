"""`attachments/….caption.toml`: what a photo beside it shows, in the words of who attached it."""

from buildlog.records.fields.base import FileFormat, Text, WholeFile


class PhotoCaption(WholeFile):
    """The caption of the file whose name this one's begins with."""

    format: FileFormat
    """The format of this file."""
    caption: Text
    """What is seen."""
