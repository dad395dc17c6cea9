"""Rules of the European Union for vehicle air conditioning. Pure.

Not applied: leak checks and equipment records of (EU) 2024/573 on passenger cars, which stand in neither of its lists;
the leak limits of Directive 2006/40/EC, which are for type approval of new vehicles.
"""
