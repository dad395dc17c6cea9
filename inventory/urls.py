"""Addresses of the inventory floor, below /w/<slug>/."""

from django.urls import path

from inventory.views import cylinder_acts, cylinders, echo, lines, partners, photos

urlpatterns = [
    path("cylinders/", cylinders.cylinders, name="cylinders"),
    path("cylinders/receive/", cylinders.receive, name="cylinder-receive"),
    path("cylinders/<int:number>/", cylinders.cylinder, name="cylinder"),
    path("cylinders/<int:number>/edit/", cylinders.edit, name="cylinder-edit"),
    path("cylinders/<int:number>/label/", cylinders.label, name="cylinder-label"),
    path("cylinders/<int:number>/label/code.svg", cylinders.label_code, name="cylinder-label-code"),
    path("cylinders/<int:number>/done/", cylinders.done, name="cylinder-done"),
    path("cylinders/<int:number>/empty-mass/", cylinder_acts.tare, name="cylinder-tare"),
    path("cylinders/<int:number>/transfer/", cylinder_acts.transfer, name="cylinder-transfer"),
    path("cylinders/<int:number>/regrade/", cylinder_acts.regrade, name="cylinder-regrade"),
    path("cylinders/<int:number>/identified/", cylinder_acts.identify, name="cylinder-identify"),
    path("cylinders/<int:number>/send-away/", cylinder_acts.send, name="cylinder-send"),
    path("cylinders/<int:number>/came-back/", cylinder_acts.come_back, name="cylinder-back"),
    path("cylinders/<int:number>/turned-up/", cylinder_acts.turned_up, name="cylinder-turned-up"),
    path("cylinders/<int:number>/loss/", cylinder_acts.loss, name="cylinder-loss"),
    path("cylinders/<int:number>/move/", cylinder_acts.to_sister, name="cylinder-sister"),
    path("cylinders/<int:number>/air/", cylinder_acts.air, name="cylinder-air"),
    path("cylinders/<int:number>/photo/", photos.cylinder_photo, name="cylinder-photo"),
    path("send-away/", cylinder_acts.send_away, name="send-away"),
    path("stock-take/", cylinder_acts.stock_take, name="stock-take"),
    path("partners/", partners.partners, name="partners"),
    path("partners/new/", partners.new, name="partner-new"),
    path("partners/<int:number>/", partners.partner, name="partner"),
    path("partners/<int:number>/edit/", partners.edit, name="partner-edit"),
    path("lines/", lines.entries, name="entries"),
    path("lines/<int:seq>/", lines.entry, name="entry"),
    path("lines/<int:seq>/reverse/", lines.reverse_entry, name="entry-reverse"),
    path("lines/<int:seq>/explain/", lines.explain, name="explain"),
    path("lines/<int:seq>/correct/", lines.correct, name="entry-correct"),
    path("lines/<int:seq>/accepted/", lines.accept, name="consignment-accept"),
    path("lines/<int:seq>/photo/", photos.line_photo, name="line-photo"),
    path("photos/<int:seq>/", photos.photo, name="photo"),
    path("photos/<int:seq>/small/", photos.photo_small, name="photo-small"),
    path("close/", lines.close, name="close-year"),
    path("echo/", echo.echo, name="echo-mass"),
]
