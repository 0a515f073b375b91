"""Invitations, tokens, calendar addresses, passcodes and failed sign-ins in the database."""

from __future__ import annotations

import datetime as dt

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import Q

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.service.doors import Invited, TokenHolder
from bedlore.service.rights import ROLES, Role
from bedlore.store.db.models import (
    Account,
    ApiToken,
    CalendarFeed,
    FarmRow,
    Invitation,
    Membership,
    Passcode,
    SignInTry,
)

_NOTE_USE_EVERY = dt.timedelta(minutes=5)
_FORGET_AFTER = dt.timedelta(days=1)


def role_of(account_id: int | None, farm_id: int) -> Role | None:
    """The account's role on the farm, or None."""
    if account_id is None:
        return None
    rows = Membership.objects.filter(account_id=account_id, farm_id=farm_id)
    return rows.filter(account__is_active=True).values_list("role", flat=True).first()  # type: ignore[no-any-return]


def give_role(account_id: int, farm_id: int, role: Role, now: dt.datetime) -> None:
    """Makes the account a member; a higher role it has already is kept."""
    membership, is_new = Membership.objects.get_or_create(
        farm_id=farm_id, account_id=account_id, defaults={"role": role, "since": now}
    )
    if not is_new and ROLES.index(role) < ROLES.index(membership.role):
        membership.role = role
        membership.save(update_fields=["role"])


class DbDoors:
    """A :class:`~bedlore.service.doors.Doors`."""

    def add_invitation(self, farm_id: int, role: Role, digest: str, by: int, now: dt.datetime,
                       ends_at: dt.datetime) -> int:  # fmt: skip
        """Stores an invitation; returns its number."""
        return Invitation.objects.create(  # type: ignore[no-any-return]
            farm_id=farm_id, role=role, digest=digest, made_by_id=by, made_at=now, ends_at=ends_at
        ).pk

    def open_invitation(self, digest: str, now: dt.datetime) -> Invited | None:
        """The invitation with this digest while it is good."""
        row = self._open(now).filter(digest=digest).select_related("farm").first()
        return Invited(row.pk, row.farm_id, row.farm.name, row.role) if row else None

    def use_invitation(self, number: int, account_id: int, now: dt.datetime) -> bool:
        """Gives the role, once; False when somebody was faster."""
        with transaction.atomic():
            taken = self._open(now).filter(pk=number).update(used_at=now, used_by_id=account_id)
            if not taken:
                return False
            row = Invitation.objects.get(pk=number)
            give_role(account_id, row.farm_id, row.role, now)
        return True

    @staticmethod
    def _open(now: dt.datetime):  # type: ignore[no-untyped-def]
        return Invitation.objects.filter(used_at=None, revoked_at=None, ends_at__gt=now)

    def add_token(self, account_id: int, farm_id: int | None, name: str, digest: str,
                  scopes: frozenset[str], now: dt.datetime,
                  ends_at: dt.datetime | None) -> int:  # fmt: skip
        """Stores a token; returns its number."""
        return ApiToken.objects.create(  # type: ignore[no-any-return]
            account_id=account_id, farm_id=farm_id, name=name, digest=digest,
            scopes=" ".join(sorted(scopes)), made_at=now, ends_at=ends_at,
        ).pk  # fmt: skip

    def holder_of_token(self, digest: str, now: dt.datetime) -> TokenHolder | None:
        """Whom the token speaks for while it is good; notes its use."""
        rows = ApiToken.objects.filter(digest=digest, revoked_at=None, account__is_active=True)
        row = rows.filter(Q(ends_at=None) | Q(ends_at__gt=now)).first()
        if row is None:
            return None
        _note_use(row, now)
        return TokenHolder(row.account_id, row.farm_id, frozenset(row.scopes.split()))

    def add_feed(self, farm_id: int, account_id: int, digest: str, now: dt.datetime) -> int:
        """Stores a calendar address; returns its number."""
        return CalendarFeed.objects.create(  # type: ignore[no-any-return]
            farm_id=farm_id, account_id=account_id, digest=digest, made_at=now
        ).pk

    def farm_of_feed(self, digest: str, now: dt.datetime) -> int | None:
        """The farm behind a calendar address while it and the membership are good."""
        row = CalendarFeed.objects.filter(digest=digest, revoked_at=None).first()
        if row is None or role_of(row.account_id, row.farm_id) is None:
            return None
        _note_use(row, now)
        return int(row.farm_id)

    def set_passcode(self, farm_id: int, passcode: str | None, role: Role,
                     now: dt.datetime) -> None:  # fmt: skip
        """Sets the household's passcode (slowly hashed), or closes that door."""
        with transaction.atomic():
            old = Passcode.objects.filter(farm_id=farm_id).select_related("account").first()
            account = old.account if old else None
            if passcode is None:
                if account is not None:
                    account.delete()  # and with it the passcode, the role and its sessions' worth
                return
            if account is None:
                account = Account(username=f"household-{farm_id}", is_household=True)
                account.set_unusable_password()
                account.first_name = "household"
                account.save()
            else:
                account.set_unusable_password()  # a new value ends sessions of the old passcode
                account.save(update_fields=["password"])
            Membership.objects.update_or_create(
                farm_id=farm_id, account=account, defaults={"role": role, "since": now}
            )
            Passcode.objects.update_or_create(
                farm_id=farm_id,
                defaults={"account": account, "hashed": make_password(passcode), "set_at": now},
            )


def household_of(farm: FarmRow | None, passcode: str) -> Account | None:
    """The household account that ``passcode`` opens on the farm, or None."""
    row = Passcode.objects.filter(farm=farm).select_related("account").first() if farm else None
    if row is None:
        make_password(passcode)  # takes as long as a check, so that time tells nothing
        return None
    return row.account if check_password(passcode, row.hashed) else None


def _note_use(row: ApiToken | CalendarFeed, now: dt.datetime) -> None:
    """Notes the use of a secret, now and then: reading must not mean writing each time."""
    if row.used_at is None or now - row.used_at > _NOTE_USE_EVERY:
        type(row).objects.filter(pk=row.pk).update(used_at=now)


class DbTries:
    """A :class:`~bedlore.service.throttle.Tries`."""

    def count(self, key: str, since: dt.datetime) -> int:
        """How many failed sign-ins there were."""
        return int(SignInTry.objects.filter(key=key, at__gte=since).count())

    def add(self, keys: tuple[str, ...], now: dt.datetime) -> None:
        """Remembers one, and forgets those of another day."""
        SignInTry.objects.filter(at__lt=now - _FORGET_AFTER).delete()
        SignInTry.objects.bulk_create(SignInTry(key=key, at=now) for key in keys)

    def forget(self, key: str) -> None:
        """Forgets those of one key."""
        SignInTry.objects.filter(key=key).delete()


def revoke(kind: type[ApiToken | CalendarFeed | Invitation], number: int, now: dt.datetime,
           **owner: object) -> bool:  # fmt: skip
    """Takes a token, a calendar address or an invitation back; ``owner`` (``account_id=`` or
    ``farm_id=``) says whose it must be. False when there is none, or it was taken back before."""
    rows = kind.objects.filter(pk=number, revoked_at=None, **owner)
    return bool(rows.update(revoked_at=now))


def set_role(farm_id: int, account_id: int, role: Role | None) -> None:
    """Changes a member's role, or ends the membership (None). A farm keeps at least one keeper:
    raises :class:`KeeperError` otherwise."""
    with transaction.atomic():
        FarmRow.objects.select_for_update().get(pk=farm_id)
        members = Membership.objects.filter(farm_id=farm_id)
        keepers = members.filter(role="keeper").exclude(account_id=account_id)
        if role != "keeper" and not keepers.exists():
            raise KeeperError(say("A farm needs a keeper."), fix=say("Make somebody else keeper"
                                                                " first."))
        mine = members.filter(account_id=account_id)
        if role is None:
            mine.delete()
        else:
            mine.update(role=role)
