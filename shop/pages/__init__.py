"""The pages of this floor: the request's workshop, forms, lists, views and their addresses. Imports everything below;
only pages import pages. What several views need, and what an act's form is understood as (a leg, a reading, a
remainder), stands beside `views/`: no view imports another.
"""
