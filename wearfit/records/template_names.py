"""Names by which the template is known again when it comes back filled in."""

from typing import Final

TEMPLATE_ABOUT: Final = "About"  # the sheet that explains the others and holds no records

EXAMPLE: Final = "EXAMPLE-"  # what the names of the example tools, plants, resins, designs and products begin with
