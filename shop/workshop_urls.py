"""Addresses of the workshop's own pages, below /w/<slug>/."""

from django.urls import path

from shop.views import checks, gas, importing, logbook, search, settings, vehicles, visits, weigh

urlpatterns = [
    path("", logbook.logbook, name="logbook"),
    path("weigh/", weigh.weigh, name="weigh"),
    path("cylinders/<int:number>/weigh/", weigh.cylinder_weigh, name="cylinder-weigh"),
    path("cylinders/<int:number>/weigh/echo/", weigh.cylinder_weigh_echo, name="cylinder-weigh-echo"),
    path("import/", importing.bring, name="import"),
    path("import/<int:pk>/", importing.job, name="import-job"),
    path("checks/", checks.checks, name="checks"),
    path("checks/<slug:name>/", checks.check, name="check"),
    path("visits/", visits.visits, name="visits"),
    path("visits/new/", visits.visit_new, name="visit-new"),
    path("visits/<int:number>/", visits.visit, name="visit"),
    path("visits/<int:number>/steps/<int:step>/", visits.visit_step_workings, name="visit-step-workings"),
    path("visits/<int:number>/add/<slug:kind>/", visits.visit_step, name="visit-step"),
    path("visits/<int:number>/charge/", gas.visit_charge, name="visit-charge"),
    path("visits/<int:number>/recover/", gas.visit_recover, name="visit-recover"),
    path("visits/<int:number>/leg/<int:cylinder>/echo/", gas.visit_leg_echo, name="visit-leg-echo"),
    path("visits/<int:number>/hand-over/", visits.visit_hand_over, name="visit-hand-over"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicles/new/", vehicles.vehicle_new, name="vehicle-new"),
    path("vehicles/<int:number>/", vehicles.vehicle, name="vehicle"),
    path("vehicles/<int:number>/edit/", vehicles.vehicle_edit, name="vehicle-edit"),
    path("vehicles/<int:number>/out-of-sight/", vehicles.vehicle_out_of_sight, name="vehicle-out-of-sight"),
    path("customers/", vehicles.customers, name="customers"),
    path("customers/new/", vehicles.customer_new, name="customer-new"),
    path("customers/<int:pk>/", vehicles.customer, name="customer"),
    path("customers/<int:pk>/remove/", vehicles.customer_remove, name="customer-remove"),
    path("settings/", settings.settings, name="settings"),
    path("settings/workshop/", settings.workshop, name="settings-workshop"),
    path("settings/rules/", settings.rules, name="settings-rules"),
    path("settings/scales/new/", settings.scale_new, name="scale-new"),
    path("settings/scales/<int:number>/", settings.scale, name="scale"),
    path("settings/instruments/new/", settings.gauge_new, name="gauge-new"),
    path("settings/instruments/<int:pk>/", settings.gauge, name="gauge"),
    path("search/", search.search, name="search"),
]
