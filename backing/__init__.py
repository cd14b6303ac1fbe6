"""A rhythm section at home: a chord chart and a groove become bass, chop and drums."""
