"""The pages: one module and one router each."""
