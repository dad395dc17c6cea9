"""The page's reader of scales, with devices that send what the standards lay down, byte for byte."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from .conftest import HOME, Server, lines_of, press

# A scale on USB: its collections as a browser reads them from the descriptor, and the reports it sends after opening.
USB = """
(reports) => {
  const item = (reportSize, more) => (
    { isArray: false, isConstant: false, isRange: false, reportCount: 1, logicalMinimum: 0, reportSize, ...more });
  const page = (...usages) => usages.map((one) => 0x8d0000 + one);
  const named = (more) => item(8, { isArray: true, logicalMinimum: 1, ...more });
  const items = [
    named({ usages: page(0x71, 0x72, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78) }),
    named({ isRange: true, usageMinimum: 0x8d0051, usageMaximum: 0x8d005c }),
    item(8, { logicalMinimum: -128, usages: page(0x41) }),
    item(16, { usages: page(0x40) }),
  ];
  const data = { usagePage: 0x8d, usage: 0x32, children: [], inputReports: [{ reportId: 3, items }] };
  const device = {
    opened: false,
    collections: [{ usagePage: 0x8d, usage: 0x20, inputReports: [], children: [data] }],
    async open() { this.opened = true; setTimeout(() => reports.forEach((bytes) => this.send(bytes)), 50); },
    async close() { this.opened = false; },
    send(bytes) {
      const data = new DataView(new Uint8Array(bytes).buffer);
      if (this.oninputreport) this.oninputreport({ reportId: 3, data });
    },
  };
  const value = { getDevices: async () => [], requestDevice: async () => [device] };
  Object.defineProperty(Navigator.prototype, "hid", { configurable: true, value });
}
"""

# A scale on Bluetooth that indicates the same measurement again and again.
BLUETOOTH = """
(bytes) => {
  const measured = new EventTarget();
  measured.value = new DataView(new Uint8Array(bytes).buffer);
  const tell = () => measured.dispatchEvent(new Event("characteristicvaluechanged"));
  measured.startNotifications = async () => { setInterval(tell, 700); };
  const service = { getCharacteristic: async () => measured };
  const gatt = { connect: async () => ({ getPrimaryService: async () => service }), disconnect() {} };
  const value = { requestDevice: async () => ({ gatt }) };
  Object.defineProperty(Navigator.prototype, "bluetooth", { configurable: true, value });
}
"""
NOTHING = """() => { for (const one of ["hid", "bluetooth"]) delete Navigator.prototype[one]; }"""
WEIGH = f"{HOME}cylinders/25/weigh/"


def opened(page: Page, server: Server, device: str, argument: object = None) -> None:
    page.add_init_script(f"({NOTHING})(); ({device})({argument or 'undefined'})" if device else f"({NOTHING})()")
    page.goto(f"{server.address}{WEIGH}")


def test_a_usb_scale_fills_the_field_once_the_load_is_at_rest_and_its_bytes_are_kept(
    server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, width=360, name="technician")
    moving, steady = [3, 3, 0xFD, 0x10, 0x30], [4, 3, 0xFD, 0xFE, 0x3D]
    opened(page, server, USB, [moving, steady, moving, steady, steady])
    page.get_by_role("button", name="Take it from the USB scale").click()
    expect(page.locator("[name=gross]")).to_have_value("15.870 kg")
    page.get_by_label("S1", exact=False).first.check()
    expect(page.locator(".echo [value='gross=15870000']")).to_have_count(1)
    press(page, "Write the reading before")
    assert "Before written as line" in page.inner_text("#page")
    rows = lines_of(server, "SELECT typed, raw FROM inventory_weighing ORDER BY id DESC LIMIT 1")
    assert rows == [("15.870 kg", "usb 74 53 -3 15870 0403fdfe3d")]


@pytest.mark.parametrize(
    ("report", "says"),
    [
        ([3, 3, 0xFD, 0x10, 0x30], "The load is moving ..."),
        ([6, 3, 0xFD, 0x10, 0x30], "There is more on the scale than it weighs ..."),
        ([4, 4, 0xFD, 0x10, 0x30], "The scale shows a unit that no cylinder is weighed in: switch it over ..."),
    ],
)
def test_a_usb_scale_that_cannot_be_read_says_why(
    report: list[int], says: str, server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, width=360, name="technician")
    opened(page, server, USB, [report])
    page.get_by_role("button", name="Take it from the USB scale").click()
    expect(page.get_by_role("button", name=says)).to_be_visible()
    expect(page.locator("[name=gross]")).to_have_value("")


def test_a_bluetooth_scale_fills_the_field_after_equal_readings(server: Server, visitor: Callable[..., Page]) -> None:
    page = visitor(server, width=360, name="technician")
    opened(page, server, BLUETOOTH, [1, 0xA6, 0x0D])
    page.get_by_role("button", name="Take it from the Bluetooth scale").click()
    expect(page.locator("[name=gross]")).to_have_value("34.94 lb")
    expect(page.locator("[name=gross_raw]")).to_have_value("bluetooth 01a60d")


def test_without_a_way_to_a_scale_the_page_says_why(server: Server, visitor: Callable[..., Page]) -> None:
    page = visitor(server, width=360, name="technician")
    opened(page, server, "")
    page.get_by_text("No scale by wire here").click()
    expect(page.get_by_text("This browser reads no scale by Bluetooth or USB.")).to_be_visible()
