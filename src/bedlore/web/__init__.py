"""The pages and the API, and what puts adapters into use cases for them."""
