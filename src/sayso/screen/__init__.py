"""The glance-able page for the laptop under the machine, and the lead hand's pages."""
