"""The tests; README.md beside this file says where one goes."""
