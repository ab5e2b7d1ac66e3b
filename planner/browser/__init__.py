"""The page: this program in one HTML file, on CPython compiled to WebAssembly.

Sources, stand-ins and the build; no arithmetic and no rounding.
"""
