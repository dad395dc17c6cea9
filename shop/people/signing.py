"""Who is meant by a name to sign in with: capitals do not matter, and no two people get names that differ by them."""

from django_otp.plugins.otp_totp.models import TOTPDevice

from shop.models import User


def same_name(one: str, other: str) -> bool:
    """Tell whether two names to sign in with are one but for capitals."""
    return User.normalize_username(one).casefold() == User.normalize_username(other).casefold()


def people_called(typed: str) -> list[User]:
    """Return who signs in with a name, whatever its capitals: no database folds those of all scripts alike."""
    names = User.objects.values_list("pk", "username")
    return list(User.objects.filter(pk__in=[pk for pk, name in names if same_name(name, typed)]))


def person_called(typed: str) -> User | None:
    """Return the one person meant: written exactly so, else the only one; None where it is nobody or not one."""
    found = people_called(typed)
    exactly = [one for one in found if one.username == typed]
    return next(iter(exactly or found)) if exactly or len(found) == 1 else None


def has_second_factor(person: User) -> bool:
    """Whether signing in asks a person for a code after the password."""
    return bool(TOTPDevice.objects.filter(user=person, confirmed=True).exists())
