"""The front: what people and programs meet. Thin; everything that is known is known before."""
