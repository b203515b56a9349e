"""The copy of the journal in an InfluxDB: what is written there, what answers mean, how two sides compare. Pure."""
