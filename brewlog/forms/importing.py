"""The upload of spreadsheets, and the word to go on."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from brewlog.forms.fields import YesNoField
from brewlog.forms.uploads import EMPTY

_ENDINGS = (".xlsx", ".xlsm", ".csv", ".tsv", ".zip")
_MOST_BYTES = 20 * 1024 * 1024


class _SeveralFilesInput(forms.FileInput):
    allow_multiple_selected = True


class SpreadsheetsField(forms.FileField):
    """One or several spreadsheets, as a list of uploads."""

    widget = _SeveralFilesInput(attrs={"accept": ",".join(_ENDINGS)})
    default_error_messages = {"empty": EMPTY}

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        uploads = [super(SpreadsheetsField, self).clean(each, initial) for each in data or [None]]
        for upload in uploads:
            if not upload.name.lower().endswith(_ENDINGS):
                raise ValidationError(
                    f"{upload.name} is not a spreadsheet that can be read. Save it as .xlsx or "
                    ".csv."
                )
        if sum(upload.size for upload in uploads) > _MOST_BYTES:
            raise ValidationError("Together the files are larger than 20 MB. Send fewer rows.")
        return uploads


class UploadForm(forms.Form):
    """The spreadsheets to look at."""

    spreadsheets = SpreadsheetsField(
        label="Spreadsheets",
        help_text="One workbook (.xlsx), several .csv files, or a .zip of them.",
        error_messages={"required": "No file was chosen. Choose the spreadsheets first."},
    )


class ConfirmForm(forms.Form):
    """What was looked at is to be recorded."""

    leave_changed = YesNoField(
        label="Leave the changed rows as they are recorded, and import the rest"
    )
