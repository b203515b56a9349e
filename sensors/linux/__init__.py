"""Thermometers, humidity sensors and contacts as Linux shows them: files of sysfs, character files, commands."""
