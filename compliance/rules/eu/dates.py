"""Days from which acts of the European Union apply. Pure."""

from datetime import date

F_GAS_2024 = date(2024, 3, 11)  # (EU) 2024/573 in force
ATTESTATIONS_2025 = date(2025, 10, 9)  # (EU) 2025/1893 in force; (EC) 307/2008 repealed
TYPES_FROM_2011, ALL_FROM_2017 = date(2011, 1, 1), date(2017, 1, 1)  # Directive 2006/40/EC Art. 6(2)
MOBILE_FROM = date(2027, 3, 12)  # Art. 5(3)(b) and (c)
REFRIGERATION_FROM, AIR_CONDITIONING_FROM = date(2025, 1, 1), date(2026, 1, 1)  # Art. 13, from memory
