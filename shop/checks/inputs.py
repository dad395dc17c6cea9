"""The inputs that several checks take."""

from shop.checks.values import Input

MACHINE_LIMIT = "10 g"
REFRIGERANT = Input("refrigerant", "Refrigerant", "refrigerant", "R-134a")
TEMPERATURE = Input("temperature", "Temperature", "temperature", "20 C")
VOLUME = Input("volume", "Inside volume", "volume", "2 L", required=False)
CLASS = Input("vehicle_class", "Class of vehicle, in place of the inside volume", "class", "van", required=False)
ALTITUDE = Input("altitude", "Height above the sea", "altitude", "210 m", required=False)
BAROMETER = Input("barometer", "Barometer, the air's own pressure", "barometer", "1003 hPa", required=False)
AS_READ = Input("as_read", "It does read so (yes)", "word", "yes", required=False)
GAUGE_STEP = Input("pressure_step", "Step of the gauge", "pressure-step", "1 psi", required=False)
THERMOMETER_STEP = Input("temperature_step", "Step of the thermometer", "temperature-step", "1 C", required=False)
WATER = Input("water_capacity", "Water capacity", "water", "26.2 lb")
LIMIT = "Limit of error of each mass"
