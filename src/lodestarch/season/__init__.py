"""What a season shows: effects, ratings, priors, indicators, faults in data, the lab's own blends.

Pure: values in, values out. A result is seconds with its kind (exact, at or below the floor, above a stop);
what it is grouped by are factors, numbered levels with their names.
"""
