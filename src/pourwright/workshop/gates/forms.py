"""What a person writes at a gate."""

from django import forms

from pourwright.workshop.gates.services import LONGEST_REASON


class DecisionForm(forms.Form):
    """A decision's reason and who takes it; ``check_name`` is empty for a release."""

    check_name = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)
    reason = forms.CharField(
        required=False, max_length=LONGEST_REASON, label="Reason",
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
    by = forms.CharField(required=False, max_length=80, label="Decided by")
