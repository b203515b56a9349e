"""Tests of the reports that are handed on."""
