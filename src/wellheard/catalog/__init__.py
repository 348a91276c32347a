"""The catalogue: what finishes, microphones, processors and loudspeakers are.

All products, product names and prices are invented and generic.
"""
