"""Writes a list of registers over Modbus TCP to a server on 127.0.0.1 and reads all of them back.

Server and client are those of python3-pymodbus (Debian), which know nothing of Athanor: requests and answers go
through the protocol of "MODBUS Application Protocol Specification V1.1b3" (modbus.org, 2012), functions 06 (write
single register) and 03 (read holding registers).

Usage: modbus.py WRITES.csv (order,address,value,meaning); prints `address value` for every register written.
"""
import asyncio
import csv
import sys
import threading
import time

from pymodbus.client import ModbusTcpClient
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server.async_io import ModbusTcpServer


def serve(ready):
    async def run():
        # zero_mode: addresses as on the wire.
        device = ModbusSlaveContext(hr=ModbusSequentialDataBlock(0, [0] * 65536), zero_mode=True)
        server = ModbusTcpServer(ModbusServerContext(slaves=device, single=True), address=("127.0.0.1", 0))
        task = asyncio.ensure_future(server.serve_forever())
        while server.server is None or not server.server.sockets:
            await asyncio.sleep(0.01)
        ready["port"] = server.server.sockets[0].getsockname()[1]
        await task

    asyncio.run(run())


ready = {}
threading.Thread(target=serve, args=(ready,), daemon=True).start()
for _ in range(1000):
    if "port" in ready:
        break
    time.sleep(0.01)
client = ModbusTcpClient("127.0.0.1", port=ready["port"])
assert client.connect()
addresses = set()
with open(sys.argv[1], encoding="utf-8", newline="") as file:
    for row in csv.DictReader(file):
        address, value = int(row["address"]), int(row["value"])
        answer = client.write_register(address, value, slave=1)
        assert not answer.isError(), answer
        addresses.add(address)
for address in sorted(addresses):
    answer = client.read_holding_registers(address, 1, slave=1)
    assert not answer.isError(), answer
    print(address, answer.registers[0])
client.close()
