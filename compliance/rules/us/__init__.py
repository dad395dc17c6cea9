"""Rules of the United States for vehicle air conditioning. Pure.

Editions read are named with each source. Not applied, because they are not for vehicles: the leak-rate triggers and
recovery levels of 40 CFR 82.156 and 82.157. A record of masses per vehicle is practice here; 82.42(b) asks for none.
"""
