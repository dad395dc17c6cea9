"""The second factor of a person: set up with a code, taken off with one."""

import base64
from typing import Any

import segno
from django.http import HttpResponse
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods
from django_otp import login as otp_login
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.pages.forms.act import page
from shop.pages.answers import to
from shop.pages.forms.account import CodeForm


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def second_factor(request: Any) -> HttpResponse:
    """Show the second factor of the person: set it up with a code, or take it off with one."""
    confirmed = TOTPDevice.objects.filter(user=request.user, confirmed=True).first()
    device = (
        confirmed
        or TOTPDevice.objects.get_or_create(user=request.user, confirmed=False, defaults={"name": "authenticator"})[0]
    )
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if device.verify_token(form.cleaned_data["code"]):
            if confirmed:
                TOTPDevice.objects.filter(user=request.user).delete()
            else:
                device.confirmed = True
                device.save(update_fields=["confirmed"])
                otp_login(request, device)
            return to("second-factor")
        form.add_error("code", "That code was not taken. Wait for the next one and enter it.")
    shown = {} if confirmed else {"secret": _secret(device), "picture": _picture(device.config_url)}
    return page(request, "shop/second_factor.html", form, confirmed=bool(confirmed), **shown)


def _secret(device: TOTPDevice) -> str:
    """Return the key as an authenticator takes it by hand: base 32 in groups of four."""
    text = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))


def _picture(url: str) -> SafeString:
    """Return the QR code of `url` as an SVG without any style attribute."""
    code = segno.make(url, error="m", micro=False)
    return SafeString(code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True, svgclass="qr"))
