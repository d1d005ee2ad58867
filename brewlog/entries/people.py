"""Entries of people, their roles and the brewery."""

from __future__ import annotations

from brewlog.domain import devices, people
from brewlog.entries.base import MANAGE, Entry
from brewlog.forms import people as forms

# Everyone chooses the units they read in, also those who only read.
_READ = "brewlog.read_records"

ENTRIES = (
    Entry(
        slug="person",
        title="Add a person",
        form=forms.PersonForm,
        verb=people.add_person,
        permission=MANAGE,
    ),
    Entry(
        slug="role",
        title="Change someone's role",
        form=forms.RoleForm,
        verb=people.change_role,
        permission=MANAGE,
        about="person",
    ),
    Entry(
        slug="password",
        title="Give someone a password",
        form=forms.GivePasswordForm,
        verb=people.give_password,
        permission=MANAGE,
        about="person",
        button="Give it",
    ),
    Entry(
        slug="deactivate",
        title="Someone leaves",
        form=forms.LeaveForm,
        verb=people.deactivate,
        permission=MANAGE,
        about="person",
    ),
    Entry(
        slug="reactivate",
        title="Someone comes back",
        form=forms.ReturnForm,
        verb=people.reactivate,
        permission=MANAGE,
        about="person",
    ),
    Entry(
        slug="brewery",
        title="Write down the brewery",
        form=forms.BreweryForm,
        verb=people.write_brewery,
        permission=MANAGE,
    ),
    Entry(
        slug="logo",
        title="Choose the brewery's logo",
        form=forms.LogoForm,
        verb=people.set_logo,
        permission=MANAGE,
    ),
    Entry(
        slug="units",
        title="Choose your units and dates",
        form=forms.UnitsForm,
        verb=people.set_units,
        permission=_READ,
        button="Choose",
    ),
    Entry(
        slug="pin",
        title="Choose your PIN",
        form=forms.PinForm,
        verb=people.set_pin,
        permission=_READ,
        button="Keep this PIN",
        caution="It changes who is at work on a shared device. It signs nothing: your password "
        "does. Nobody else should know it, as what it records stands under your name.",
    ),
    Entry(
        slug="share-device",
        title="Share this device",
        form=forms.ShareDeviceForm,
        verb=devices.share_device,
        permission=MANAGE,
        button="Share it",
        caution="On this very device anyone with a PIN takes over by a tap. Do so only on one "
        "that stays in the house.",
    ),
)
