"""The pages of this floor: forms, lists, views and their addresses. Imports everything below; nothing imports it."""
